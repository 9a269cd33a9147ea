"""What a take was played to, and how the two sound together again, on one clock to the frame.

Takes come from a room above this one: what is needed of them here is declared as protocols.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

from trainer.music.exercise import Exercise
from trainer.playback.click_track import BEATS
from trainer.playback.event import Event, Kind
from trainer.playback.mix import CLICK, Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.streams import Stereo, in_pieces, together
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.sounds.rig import Rig
from trainer.sounds.sound_bank import check_bank

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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


class Note(Protocol):
    """A note that came by MIDI."""

    @property
    def at(self) -> Fraction: ...  # noqa: D102 - seconds of the take
    @property
    def channel(self) -> int: ...  # noqa: D102
    @property
    def pitch(self) -> int: ...  # noqa: D102
    @property
    def velocity(self) -> int: ...  # noqa: D102


@runtime_checkable
class Recorded(Protocol):
    """A take of sound."""

    @property
    def samples(self) -> "NDArray[np.float32]": ...  # noqa: D102 - of one guitarist
    @property
    def rate(self) -> int: ...  # noqa: D102


class Noted(Protocol):
    """A take of notes."""

    @property
    def notes(self) -> Sequence[Note]: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class PlayedTo:
    """The music that a take is a pass of."""

    piece: Piece
    loop: Loop
    part: str
    share: Fraction
    """Of the target tempos of its riffs."""
    passes: int = 1
    click: str | None = None
    """The click pattern's name; "" for none; None where that was not kept."""

    @classmethod
    def of(cls, exercise: Exercise, about: Mapping[str, Any]) -> "PlayedTo":
        """Find in an exercise, its harmonies computed, what was kept about a take.

        Raises ValueError, with a sentence, where it is no longer there.
        """
        whole, name = about.get("form") is True, str(about.get("riff") or "")
        riff = exercise.riff(name) if name and not whole else None
        if riff is None and not whole:
            raise ValueError(f'{exercise.title} has no riff "{name}" any more')
        piece = Piece.of(exercise, exercise.played if riff is None else (riff,))
        bars, part = len(piece.bars), str(about.get("part") or "")
        first, last = (about.get(key) or usual for key, usual in (("first_bar", 1), ("last_bar", bars)))
        if not (isinstance(first, int) and isinstance(last, int) and 1 <= first <= last <= bars):
            raise ValueError(f"It has {bars} bars now, not bars {first} to {last}")
        if part not in piece.part_names:
            raise ValueError(f'No part is called "{part}" any more')
        target, tempo = piece.target_bpm(0), about.get("tempo_bpm")
        if tempo is None:
            tempo = float(target)
        if not isinstance(tempo, int | float) or not 1 <= tempo <= 1_000:
            raise ValueError(f"{tempo} is no tempo")
        share = Fraction(tempo).limit_denominator(1_000_000) / target
        passes, click = about.get("passes"), about.get("click")
        pattern = ("" if click == "none" else click) if isinstance(click, str) else None
        return cls(piece, Loop(first - 1, last - 1), part, share, passes if isinstance(passes, int) else 1, pattern)


@dataclass(frozen=True, slots=True)
class Voices:
    """What it sounds with."""

    rig: Rig
    bank: Path
    gain: float | None = None
    """As in the settings; None for the usual."""


def played_again(
    take: Recorded | Noted,
    beside: Beside,
    to: Callable[[], PlayedTo],
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
    rate = take.rate if isinstance(take, Recorded) else USUAL_RATE
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise ValueError(f"The take was recorded at {rate} Hz; {LOWEST_RATE} to {HIGHEST_RATE} Hz can be played.")
    if isinstance(take, Recorded) and beside is Beside.NOTHING:
        return in_pieces(take.samples, int(PIECE_SECONDS * rate)), rate
    found, sounded = to(), voices()
    fitted = sounded.rig.fitted_to(check_bank(sounded.bank))
    timeline = Timeline.of(found.piece, fitted)
    options = SynthOptions(rate=rate, gain=SynthOptions().gain if sounded.gain is None else sounded.gain)

    def synth() -> OfflineSynth:
        return OfflineSynth(sounded.bank, options, click_keys(timeline))

    if isinstance(take, Recorded):
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


def _of_notes(take: Noted, timeline: Timeline, part: str, synth: OfflineSynth) -> Iterator[Stereo]:
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
