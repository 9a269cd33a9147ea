"""Hearing a kept take again on the player's own sound card, with the player's sounds."""

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from trainer.listening.duplex import LATENCY_S, Duplex
from trainer.listening.find_device import NoCardError, find_device
from trainer.listening.take_file import read_take
from trainer.listening.takes import KeptTake
from trainer.music.problem import Problem, ProblemsError
from trainer.playback import quiet
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.patience import OutOfPatienceError, within
from trainer.playback.played_again import Beside, PlayedTo, Voices, played_again
from trainer.screens.painting import hush_descriptor
from trainer.screens.replay import NotOpenedError
from trainer.sounds.find_banks import built_in_bank

if TYPE_CHECKING:
    from trainer.screens.wiring import Exercises
    from trainer.settings import Settings
    from trainer.sounds.rig import Rig

CLOSING_S = 2.0
"""Seconds that the device may take to close; that of a sound server that died never does."""
GONE = "The sound card stopped. Connect it again, and start again."


class CardReplay:
    """A take on the sound card."""

    def __init__(self, stream: Duplex) -> None:
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
        if not self._over and self._stream.all_played:
            self._over = time.monotonic() + 2 * LATENCY_S
        return bool(self._over) and time.monotonic() > self._over

    @property
    def gone(self) -> str:
        """Whether the device stopped by itself."""
        return GONE if self._stream.vanished else ""

    def close(self) -> None:
        """Be silent, and release the device."""
        try:
            within(CLOSING_S, self._stream.close)
        except OutOfPatienceError:
            import atexit

            import sounddevice

            atexit.unregister(sounddevice._exit_handler)  # it would wait for the dead server for ever


def replay(
    take: KeptTake, beside: Beside, settings: "Settings", rig: "Callable[[], Rig]", exercises: "Exercises"
) -> CardReplay:
    """Hear a take from its beginning.

    Args:
        take: the take.
        beside: what is heard with it.
        settings: the player's.
        rig: gives the patches.
        exercises: where what it is of is found.

    Raises:
        NotOpenedError: the sound card's output cannot be opened.
        ProblemsError: the take or its exercise cannot be read, or there is no sound.
    """
    (played,) = read_take(take.sound)[:1]

    def to() -> PlayedTo:
        from pathlib import Path

        file, name = take.value("file"), str(take.value("exercise") or "")
        path = Path(str(file)) if file and Path(str(file)).is_file() else exercises.find(name)
        return PlayedTo.of(exercises.read(path), take.about)

    def voices() -> Voices:
        return Voices(rig(), settings.bank or built_in_bank(), settings.gain)

    try:
        sounds, rate = played_again(played, beside, to, voices, take.begins_s)
        hush_descriptor()
        output = find_device(settings.output, "output", quiet.hush_system)
        return CardReplay(Duplex(sounds, rate, output=output, channels=0))
    except (LibraryMissingError, SynthError, NoCardError) as error:
        raise ProblemsError([Problem("", 0, 0, str(error).rstrip("."))]) from None
    except ValueError as error:
        hint = "" if beside is Beside.NOTHING else "It can be heard alone"
        raise ProblemsError([Problem("", 0, 0, str(error).rstrip("."), hint=hint)]) from None
