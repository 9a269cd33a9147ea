"""Hearing a kept take again, alone or with what it was played to."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.problem import Problem, ProblemsError

if TYPE_CHECKING:
    from trainer.listening.duplex import Duplex
    from trainer.listening.takes import KeptTake
    from trainer.playback.streams import Stereo
    from trainer.session.machine import Exercises
    from trainer.session.played_again import Beside, Voices

GONE = "The sound card stopped. Connect it again, and start again."


class SoundMissingError(ProblemsError):
    """The machine lacks a sound card or a synthesiser."""


class NotOpenedError(ProblemsError):
    """The sound card's output cannot be opened: perhaps the stand's own sound holds it."""


class CardReplay:
    """A take on the sound card."""

    def __init__(self, stream: "Duplex") -> None:
        """Begin. Raises NotOpenedError where the device cannot be opened."""
        self._stream = stream
        self._over = 0.0
        try:
            stream.begin()
        except ProblemsError as error:
            self.close()
            raise NotOpenedError(error.problems) from None
        except BaseException:
            self.close()
            raise

    @property
    def ended(self) -> bool:
        """Whether all of it was heard."""
        from trainer.listening.duplex import LATENCY_S

        if not self._over and self._stream.all_played:
            self._over = time.monotonic() + 2 * LATENCY_S
        return bool(self._over) and time.monotonic() > self._over

    @property
    def gone(self) -> str:
        """Whether the device stopped by itself."""
        return GONE if self._stream.vanished else ""

    def close(self) -> None:
        """Be silent, and release the device."""
        from trainer.session.duplex_card import close_stream

        close_stream(self._stream)


def sound_of_take(
    take: "KeptTake", beside: "Beside", voices: "Callable[[], Voices]", exercises: "Exercises"
) -> "tuple[Iterator[Stereo], int]":
    """What is heard when a take is played again, piece by piece in stereo, and the frames a second.

    Args:
        take: the take.
        beside: what is heard with it.
        voices: gives what that sounds with.
        exercises: where what it is of is found.

    Raises:
        SoundMissingError: there is no synthesiser.
        ProblemsError: the take or its exercise cannot be read, or not be played together.
    """
    from trainer.listening.take_file import read_take
    from trainer.playback.fluid import LibraryMissingError, SynthError
    from trainer.session.heard_pass import Passage
    from trainer.session.played_again import Beside, played_again

    (played,) = read_take(take.sound)[:1]

    def to() -> Passage:
        file = Path(take.info.file) if take.info.file else None
        if not file and not take.info.exercise:
            raise ValueError(f"{take.name} does not say which exercise it is of")
        path = file if file is not None and file.is_file() else exercises.find(take.info.exercise)
        return Passage.of_take(take.info, exercises.read(path))

    try:
        return played_again(played, beside, to, voices, take.info.begins_s)
    except (LibraryMissingError, SynthError) as error:
        raise SoundMissingError([Problem("", 0, 0, str(error).rstrip("."))]) from None
    except ValueError as error:
        hint = "" if beside is Beside.NOTHING else "It can be heard alone"
        raise ProblemsError([Problem("", 0, 0, str(error).rstrip("."), hint=hint)]) from None


def replay_on_card(sounds: "Iterator[Stereo]", rate: int, output: str) -> CardReplay:
    """Begin to play a take's sound on the sound card.

    Args:
        sounds: the sound, piece by piece.
        rate: its frames a second.
        output: the output's name or a part of it; empty for the system's own choice.

    Raises:
        NotOpenedError: the output cannot be opened.
        SoundMissingError: there is no sound card.
        ProblemsError: no output, or more than one, has such a name.
    """
    from trainer.listening.devices import NoCardError, find_device
    from trainer.listening.duplex import Duplex
    from trainer.playback import sound_log
    from trainer.playback.screen_output import stderr_to_sound_log

    stderr_to_sound_log()
    try:
        found = find_device(output, "output", sound_log.hush_system)
    except NoCardError as error:
        raise SoundMissingError([Problem("", 0, 0, str(error).rstrip("."))]) from None
    return CardReplay(Duplex(sounds, rate, output=found, channels=0))
