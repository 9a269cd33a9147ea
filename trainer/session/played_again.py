"""The sound of a kept take with what it was played to, on one clock to the frame."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

from trainer.listening.midi_take import MidiTake
from trainer.listening.sound import Sound
from trainer.playback.click_track import BEATS
from trainer.playback.event import Event, Kind
from trainer.playback.mix import CLICK, Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.streams import Stereo, in_pieces, together
from trainer.playback.synth_options import SynthOptions, usual_gain
from trainer.playback.timeline import Timeline
from trainer.session.heard_pass import Passage
from trainer.sounds.rig import Rig
from trainer.sounds.sound_bank import check_bank

BEHIND_DB = -6.0
"""How far the written part is put behind the take."""
PIECE_SECONDS = 0.5
USUAL_RATE, LOWEST_RATE, HIGHEST_RATE = 48_000, 22_050, 96_000
LONGEST_NOTE_SECONDS, LAST_NOTE_SECONDS, TAIL_SECONDS = Fraction(4), Fraction(3, 5), 1
STRUM_SECONDS = Fraction(6, 100)
"""Notes of one channel that are closer together are one chord."""


class Beside(StrEnum):
    """What is heard beside a take."""

    PART = "click and part"
    CLICK = "click"
    NOTHING = "alone"


@dataclass(frozen=True, slots=True)
class Voices:
    """What it sounds with."""

    rig: Rig
    bank: Path
    gain: float | None = None
    """As in the settings; None for the usual."""


def played_again(
    take: Sound | MidiTake,
    beside: Beside,
    to: Callable[[], Passage],
    voices: Callable[[], Voices],
    begins_s: float = 0.0,
) -> tuple[Iterator[Stereo], int]:
    """A take's sound with what it was played to, piece by piece in stereo, and the frames a second.

    Args:
        take: the take.
        beside: what is heard with it.
        to: gives what it was played to; asked for only where that is needed. What it raises is raised here.
        voices: gives what that sounds with; likewise.
        begins_s: second of the take at which its pass begins.

    Raises:
        ValueError: it was recorded at a rate that cannot be played.
        ProblemsError, LibraryMissingError, SynthError: the bank or the synthesiser is not there, or a patch.
    """
    rate = take.rate if isinstance(take, Sound) else USUAL_RATE
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise ValueError(f"The take was recorded at {rate} Hz; {LOWEST_RATE} to {HIGHEST_RATE} Hz can be played.")
    if isinstance(take, Sound) and beside is Beside.NOTHING:
        return in_pieces(take.samples, int(PIECE_SECONDS * rate)), rate
    found, sounded = to(), voices()
    fitted = sounded.rig.fitted_to(check_bank(sounded.bank))
    timeline = Timeline.of(found.piece, fitted)
    options = SynthOptions(rate=rate, gain=usual_gain(sounded.bank) if sounded.gain is None else sounded.gain)

    def synth() -> OfflineSynth:
        return OfflineSynth(sounded.bank, options, click_keys(timeline))

    if isinstance(take, Sound):
        own = in_pieces(take.samples, int(PIECE_SECONDS * rate))
    else:
        own = _of_notes(take, timeline, found.part, synth())
    if beside is Beside.NOTHING:
        return own, rate
    heard = [CLICK, found.part] if beside is Beside.PART else [CLICK]
    plan = Plan(
        loop=found.loop,
        share=found.share,
        passes=found.passes,
        click=BEATS if found.click is None else sounded.rig.click_pattern(found.click) if found.click else None,
        mix=Mix().only(heard, timeline.parts).with_level(found.part, BEHIND_DB),
    )
    return together(own, sound_of(timeline, plan, synth()), round(begins_s * rate)), rate


def _of_notes(take: MidiTake, timeline: Timeline, part: str, synth: OfflineSynth) -> Iterator[Stereo]:
    """A MIDI take through the part's own patch; a note sounds until the next stroke of its channel."""
    from trainer.playback.channels import set_up

    strings = timeline.voice(part).channels
    by_string = len({note.channel for note in take.notes}) > 1
    events: list[Event] = []
    last = 0
    for number, note in enumerate(take.notes):
        channel = strings[(note.channel if by_string else number) % len(strings)]
        following = (
            other.at
            for other in take.notes[number + 1 :]
            if other.channel == note.channel and other.at - note.at > STRUM_SECONDS
        )
        end = min(next(following, note.at + LAST_NOTE_SECONDS), note.at + LONGEST_NOTE_SECONDS)
        first, last = round(note.at * synth.rate), round(Fraction(end) * synth.rate)
        events.append(Event(first, Kind.NOTE_ON, channel, note.pitch, note.velocity))
        events.append(Event(last, Kind.NOTE_OFF, channel, note.pitch, 0))
    synth.prepare(timeline.layout, set_up(timeline.voices, Mix()))
    synth.send(sorted(events))
    step, over = int(PIECE_SECONDS * synth.rate), last + TAIL_SECONDS * synth.rate
    try:
        while synth.now() < over:
            yield synth.render(step)
    finally:
        synth.close()
