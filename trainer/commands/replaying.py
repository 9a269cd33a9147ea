"""Hearing a kept take again, against the click and the written part, on one clock to the frame."""

import time
from collections.abc import Iterator
from pathlib import Path

from trainer.commands.kept import exercise_of
from trainer.commands.line import DONE, CallError, MachineError
from trainer.commands.terminal import say
from trainer.listening.take_file import read_take
from trainer.listening.takes import KeptTake
from trainer.music.problem import Problem, ProblemsError
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.played_again import Beside, PlayedTo, Voices, played_again
from trainer.playback.streams import Stereo
from trainer.settings import load_settings
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches


def replay(take: KeptTake, out: Path | None, *, alone: bool) -> int:
    """Hear a take, or write what would be heard to a file.

    Raises:
        ProblemsError, CallError: the take, or what it is of, cannot be read, or the file not be written.
        MachineError: there is no sound device or no synthesiser.
    """
    (played,) = read_take(take.sound)[:1]

    def to() -> PlayedTo:
        return _played_to(take)

    try:
        beside = Beside.NOTHING if alone else Beside.PART
        try:
            sounds, rate = played_again(played, beside, to, _voices, take.begins_s)
        except ValueError as error:
            raise CallError(f"{str(error).rstrip('.')}.") from None
        return _written(sounds, rate, out) if out else _heard(sounds, rate, take.name)
    except (LibraryMissingError, SynthError) as error:
        raise MachineError(str(error)) from None


def _voices() -> Voices:
    settings = load_settings()
    return Voices(load_patches(), settings.bank or built_in_bank(), settings.gain)


def _played_to(take: KeptTake) -> PlayedTo:
    """What a take was played to. Raises CallError and ProblemsError."""
    from trainer.arranging.realise import realise_exercise
    from trainer.commands.exercises import load

    name = exercise_of(take)
    if not name:
        raise CallError(f"{take.name} does not say which exercise it is of: hear it with --alone.")
    written, path = load(name)
    return PlayedTo.of(realise_exercise(written, str(path)), take.about)


def _written(sounds: Iterator[Stereo], rate: int, path: Path) -> int:
    from trainer.playback.audio_file import FORMATS, AudioFile

    if path.suffix.casefold() not in FORMATS:
        raise CallError(f"--out cannot be {path}: a file ending in {', '.join(FORMATS)}.")
    with AudioFile(path, rate) as file:
        for sound in sounds:
            file.write(sound)
        written = file.finish()
    say(f"{path}: {written.frames / rate:.1f} s of sound.")
    return DONE


def _heard(sounds: Iterator[Stereo], rate: int, name: str) -> int:
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
