"""Hearing a kept take again, against the click and the written part, on one clock to the frame."""

import time
from collections.abc import Iterator
from pathlib import Path

from trainer.commands.line import DONE, CallError, MachineError
from trainer.commands.own_machine import machine
from trainer.commands.replacing import check_free
from trainer.commands.sound_card import quiet_descriptor
from trainer.commands.terminal import say
from trainer.listening.takes import KeptTake
from trainer.music.problem import Problem, ProblemsError
from trainer.playback.streams import Stereo
from trainer.session.own_sound import voices_of
from trainer.session.played_again import Beside
from trainer.session.replay import SoundMissingError, sound_of_take

LOOK_S = 0.02
"""Between two looks at whether all was heard."""


def replay(take: KeptTake, out: Path | None, *, alone: bool, replace: bool = False) -> int:
    """Hear a take, or write what would be heard to a file; one that is there already only where `replace` says so.

    Raises:
        ProblemsError, CallError: the take, or what it is of, cannot be read, or the file not be written.
        MachineError: there is no sound device or no synthesiser.
    """
    if out:
        check_free(out, replace=replace)
    beside = Beside.NOTHING if alone else Beside.PART
    own = machine()
    try:
        if out is None:
            return _heard(take, beside)
        sounds, rate = sound_of_take(take, beside, lambda: voices_of(own.settings(), own.rig), own.exercises)
        return _written(sounds, rate, out)
    except SoundMissingError as error:
        raise MachineError(str(error.problems[0])) from None


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


def _heard(take: KeptTake, beside: Beside) -> int:
    with quiet_descriptor():
        heard = machine().outputs.hear_again(take, beside)
        try:
            say(f"{take.name}: playing")
            while not heard.ended:
                if heard.gone:
                    raise ProblemsError([Problem("", 0, 0, heard.gone.rstrip("."))])
                time.sleep(LOOK_S)
        except KeyboardInterrupt:
            pass
        finally:
            heard.close()
    return DONE
