"""The machine of the program itself: the player's folders, log, settings and sound device."""

import contextlib
import locale
import os
import sys
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from trainer.places import bundled, data_folder, index_file, shelf_name, state_folder, takes_folder
from trainer.session.lazy import Lazy
from trainer.session.machine import Machine
from trainer.session.memory import SessionMemory
from trainer.session.notices import Notices
from trainer.session.own_sound import OwnInputs, OwnOutputs

if TYPE_CHECKING:
    from trainer.listening.takes import Takes
    from trainer.music.exercise import Exercise
    from trainer.music.problem import Problem
    from trainer.notation.head import Head
    from trainer.notation.index import Glimpse
    from trainer.notation.library import Library
    from trainer.practice.log import Log
    from trainer.settings import Settings
    from trainer.sounds.rig import Rig


class ExerciseFiles:
    """The exercises in the player's folders and the bundled ones."""

    def __init__(
        self, folders: Callable[[], Sequence[Path]], index: Path | None, rig: "Callable[[], Rig]", of: str = ""
    ) -> None:
        """Look into folders.

        Args:
            folders: gives where exercises are.
            index: remembers heads between starts.
            rig: gives what knows which patches exercises may name.
            of: names the folders in the index.
        """
        self._folders, self._index, self._rig, self._of = folders, index, rig, of
        self._library = Lazy(self._look)

    def _look(self) -> "Library":
        from trainer.notation.library import Library

        return Library(self._folders(), self._index, self._of)

    def glimpse(self, file: str) -> "Glimpse | None":
        """Those around a file as they were at the last start."""
        from trainer.notation.index import glimpse

        return glimpse(self._index, self._of, file) if self._index else None

    def heads(self) -> "Sequence[Head]":
        """All of them."""
        return self._library().heads()

    def find(self, name: str) -> Path:
        """The file of one. Raises ProblemsError."""
        return self._library().find(name)

    def read(self, path: Path) -> "Exercise":
        """One, with its harmonies computed. Raises ProblemsError."""
        from trainer.arranging.realise import realise_exercise
        from trainer.notation.files import read_file

        return realise_exercise(read_file(path, self._rig().patch_names, path.name), path.name)

    def add_folder(self, folder: Path) -> bool:
        """Look into another one too, and keep it in the settings. Raises ProblemsError."""
        from trainer.settings import add_folder, load_settings

        new = add_folder(folder)
        self._folders, self._of = (lambda: load_settings().exercise_folders), shelf_name()
        self._library = Lazy(self._look)
        return new


def terminal_encoding() -> str:
    """The terminal's character encoding.

    Under the C locale Python writes UTF-8 whatever the terminal takes (PEP 540), so there the locale itself is asked,
    unless the player has asked for an encoding.
    """
    asked = "PYTHONIOENCODING" in os.environ or "PYTHONUTF8" in os.environ or "utf8" in sys._xoptions
    if sys.flags.utf8_mode and not asked:
        return locale.getencoding()
    return sys.stdout.encoding or "ascii"


def open_machine(*, practising: bool = True, stand_in: bool = True) -> Machine:
    """Everything as the player has set it up, each part opened when it is first asked for.

    Nothing but the memory is read here: the first screen is shown before the settings and the log are.

    Args:
        practising: whether passes will be played. Then ports that a start which was cut short left sounding are
            silenced, and the log knows of this start.
        stand_in: whether defaults stand in for what is wrong in the settings, which the notices tell then; otherwise
            asking for the settings raises ProblemsError.
    """
    notices, own_rig = Notices(), Lazy(load_own_rig)
    settings = Lazy((lambda: _settings(notices)) if stand_in else load_own_settings)

    exercises = ExerciseFiles(lambda: settings().exercise_folders, index_file(), own_rig, shelf_name())

    return Machine(
        exercises=exercises,
        open_log=Lazy(lambda: _open_log(notices, practising)),
        memory=SessionMemory(state_folder() / "stand.json", notices.tell),
        settings=settings,
        load_rig=own_rig,
        takes=Lazy(lambda: own_takes(settings())),
        outputs=OwnOutputs(settings, own_rig, exercises),
        inputs=OwnInputs(settings),
        clock=time.monotonic,
        now=local_now,
        encoding=terminal_encoding(),
        notices=notices,
        own_file=own_file,
    )


def _open_log(notices: Notices, practising: bool) -> "Log":
    """The player's log; before practising, what a start that was cut short may have left sounding is silenced."""
    from trainer.practice.log import Log

    def tell(problem: "Problem") -> None:
        notices.tell(str(problem))

    sitting = uuid4().hex if practising else ""
    log = Log.open(data_folder() / "log.sqlite", now=local_now, tell=tell, sitting=sitting, process=os.getpid())
    if practising:
        silence_ports(log)
    return log


def load_own_rig() -> "Rig":
    """The bundled patches and the player's own. Raises ProblemsError."""
    from trainer.sounds.load_patches import load_patches

    return load_patches()


def own_file(path: Path) -> Path:
    """Where changes to an exercise are written: in its file, or for a bundled one in the player's own folder."""
    inside = path.resolve().is_relative_to(bundled("exercises").resolve())
    return data_folder() / "exercises" / path.name if inside else path


def local_now() -> datetime:
    """The local time, with its zone."""
    return datetime.now().astimezone()


def load_own_settings() -> "Settings":
    """The player's settings. Raises ProblemsError."""
    from trainer.settings import load_settings

    return load_settings()


def _settings(notices: Notices) -> "Settings":
    """The player's settings as far as they are understood; what is wrong is told."""
    from trainer.settings import read_settings

    settings, problems = read_settings()
    for problem in problems:
        notices.tell(str(problem))
    return settings


def own_takes(settings: "Settings") -> "Takes":
    """The player's folder of takes."""
    from trainer.listening.takes import Takes

    return Takes(takes_folder(), settings.keep_mib << 20)


def silence_ports(log: "Log") -> None:
    """All notes off on the ports of runs that were cut short."""
    from trainer.practice.sittings import ports_to_silence, silenced

    ports = log.ask(ports_to_silence, process_runs, log.sitting)
    if not ports:
        return
    from trainer.playback.port_names import PortError
    from trainer.playback.port_sink import PortSink

    for port in ports:
        with contextlib.suppress(PortError):
            sink = PortSink(port)
            sink.silence()
            sink.close()
    log.change(silenced, process_runs, round(local_now().timestamp() * 1000), log.sitting)


def process_runs(number: int) -> bool:
    """Whether a process of this number is running."""
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
