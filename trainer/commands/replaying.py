"""Hearing a kept take again, against the click and the written part, on one clock to the frame."""

import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.kept import about, start_of, subject_of
from trainer.commands.line import DONE, CallError, MachineError
from trainer.commands.terminal import say
from trainer.listening.midi_take import MidiTake
from trainer.listening.sound import Sound
from trainer.listening.take_file import read_take
from trainer.listening.takes import KeptTake
from trainer.music.problem import Problem, ProblemsError
from trainer.playback.click_track import BEATS
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.mix import Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.settings import load_settings
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches
from trainer.sounds.sound_bank import check_bank

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Stereo = NDArray[np.float32]

BEHIND_DB = -6.0
"""How far the written part is put behind the take."""
PIECE_SECONDS = 0.5
USUAL_RATE, LOWEST_RATE, HIGHEST_RATE = 48_000, 22_050, 96_000
LONGEST_NOTE_SECONDS, LAST_NOTE_SECONDS, TAIL_SECONDS = Fraction(4), Fraction(3, 5), 1
STRUM_SECONDS = Fraction(6, 100)
"""Notes of one channel that are closer together are one chord."""


def replay(take: KeptTake, out: Path | None, *, alone: bool) -> int:
    """Hear a take, or write what would be heard to a file.

    Raises:
        ProblemsError, CallError: the take, or what it is of, cannot be read, or the file not be written.
        MachineError: there is no sound device or no synthesiser.
    """
    (played,) = read_take(take.sound)[:1]
    rate = played.rate if isinstance(played, Sound) else USUAL_RATE
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise CallError(f"The take was recorded at {rate} Hz; {LOWEST_RATE} to {HIGHEST_RATE} Hz can be played.")
    try:
        sounds = _sounds(take, played, rate, alone)
        return _written(sounds, rate, out) if out else _heard(sounds, rate, take.name)
    except (LibraryMissingError, SynthError) as error:
        raise MachineError(str(error)) from None


def _sounds(take: KeptTake, played: Sound | MidiTake, rate: int, alone: bool) -> "Iterator[Stereo]":
    """The take, with or without what it was played to."""
    if alone and isinstance(played, Sound):
        return _of_sound(played)
    settings, rig = load_settings(), load_patches()
    bank = settings.bank or built_in_bank()
    fitted = rig.fitted_to(check_bank(bank))
    subject = subject_of(take)
    part = subject.part(0)
    timeline = Timeline.of(Piece.of(subject.exercise, (subject.riff,)), fitted)
    kept = about(take, "click")
    pattern = None if kept == "none" else rig.click_pattern(str(kept)) if kept else BEATS
    plan = Plan(
        loop=subject.loop,
        share=subject.tempos[0] / subject.riff.tempo.target,
        passes=subject.passes,
        click=pattern,
        mix=Mix().only([part, "click"], timeline.parts).with_level(part, BEHIND_DB),
    )
    options = SynthOptions(rate=rate, gain=SynthOptions().gain if settings.gain is None else settings.gain)

    def synth() -> OfflineSynth:
        return OfflineSynth(bank, options, click_keys(timeline))

    own = _of_sound(played) if isinstance(played, Sound) else _of_notes(played, timeline, part, synth())
    if alone:
        return own
    # Where no calibration told it, the take's start was estimated from the take: then both begin together.
    begins = start_of(take) if start_of(take) is not None else float(take.about.get("start_s") or 0.0)
    return _together(own, sound_of(timeline, plan, synth()), round((begins or 0.0) * rate))


def _of_sound(sound: Sound) -> "Iterator[Stereo]":
    """A mono take on both sides, piece by piece."""
    import numpy as np

    step = int(PIECE_SECONDS * sound.rate)
    for first in range(0, len(sound.samples), step):
        yield np.repeat(sound.samples[first : first + step, None], 2, axis=1)


def _of_notes(take: MidiTake, timeline: Timeline, part: str, synth: OfflineSynth) -> "Iterator[Stereo]":
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


def _together(own: "Iterator[Stereo]", other: "Iterator[Stereo]", late: int) -> "Iterator[Stereo]":
    """Two streams of sound added; `other` begins `late` frames after `own`, or before it."""
    import numpy as np

    step = 4_096
    silence = np.zeros((abs(late), 2), np.float32)
    first, second = (_steps(each, step, silence if waits else silence[:0])
                     for each, waits in ((own, late < 0), (other, late > 0)))  # fmt: skip
    while True:
        one, two = next(first, None), next(second, None)
        if one is None and two is None:
            return
        out = np.zeros((step, 2), np.float32)
        for sound in (one, two):
            if sound is not None:
                out[: len(sound)] += sound
        yield np.clip(out, -1.0, 1.0)


def _steps(sounds: "Iterator[Stereo]", step: int, before: "Stereo") -> "Iterator[Stereo]":
    """A stream cut into equal steps, with something before it."""
    import numpy as np

    rest = before
    for sound in sounds:
        rest = np.concatenate([rest, sound]) if len(rest) else sound
        while len(rest) >= step:
            yield rest[:step]
            rest = rest[step:]
    while len(rest):
        yield rest[:step]
        rest = rest[step:]


def _written(sounds: "Iterator[Stereo]", rate: int, path: Path) -> int:
    from trainer.playback.audio_file import FORMATS, AudioFile

    if path.suffix.casefold() not in FORMATS:
        raise CallError(f"--out cannot be {path}: a file ending in {', '.join(FORMATS)}.")
    with AudioFile(path, rate) as file:
        for sound in sounds:
            file.write(sound)
        written = file.finish()
    say(f"{path}: {written.frames / rate:.1f} s of sound.")
    return DONE


def _heard(sounds: "Iterator[Stereo]", rate: int, name: str) -> int:
    from trainer.commands.sound_card import close, find_output, quiet_descriptor
    from trainer.listening.duplex import LATENCY_S, Duplex

    with quiet_descriptor():
        stream = Duplex(sounds, rate, output=find_output(load_settings().output), channels=0)
        try:
            stream.begin()
            say(f"{name}: playing")
            while not stream.all_played:
                if stream.vanished:
                    what = "The sound card stopped"
                    raise ProblemsError([Problem("", 0, 0, what, hint="Connect it again, and start again")])
                time.sleep(0.02)
            time.sleep(2 * LATENCY_S)
        except KeyboardInterrupt:
            pass
        finally:
            close(stream)
    return DONE
