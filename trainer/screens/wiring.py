"""What the screens are given from outside: exercises, log, sound, clocks. Only the program's entry builds these."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from trainer.screens.drawing.pen import BOX, Pen
from trainer.screens.known_late import LooksUp, nothing_known
from trainer.screens.news import News
from trainer.screens.render_again import Renders, renders_nothing
from trainer.screens.replay import HearsAgain, no_replay

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.takes import Takes
    from trainer.music.exercise import Exercise
    from trainer.notation.head import Head
    from trainer.notation.index import Glimpse
    from trainer.playback.sink import Sink
    from trainer.practice.log import Log
    from trainer.screens.ears import Ear
    from trainer.screens.memory import Memory
    from trainer.sounds.rig import Rig


class Exercises(Protocol):
    """The exercises the player has. May be called from a thread that is not the screen's."""

    def glimpse(self, file: str) -> "Glimpse | None":
        """Some of them around a file, as they were at the last start, at once; None where that is not known."""

    def heads(self) -> "Sequence[Head]":
        """All of them, by folder and path; files that changed on disk are read again."""

    def find(self, name: str) -> Path:
        """The file of an exercise, by id. Raises ProblemsError where there is none."""

    def read(self, path: Path) -> "Exercise":
        """An exercise with its harmonies computed. Raises ProblemsError with everything that is wrong in it."""

    def add_folder(self, folder: Path) -> bool:
        """Look into another folder too, from now on and at every start; False when it was looked into already.

        Raises ProblemsError where the settings cannot be written; nothing has changed then.
        """


class Sounding(NamedTuple):
    """An open sink, and what there is to say about it."""

    sink: "Sink"
    where: str
    """Where it sounds, in a word or two: "synth", the port's name, "silence"."""
    trouble: str = ""
    """Why there is no sound, and what to do; empty when all is well."""
    port: str = ""
    """The MIDI port's name; empty for anything else."""
    latency_seconds: float = 0.0
    """Seconds from carrying an event out to hearing it."""


OpenSound = Callable[[str], Sounding]
"""Opens what sounds: "" for the synth, else a MIDI port's name. It never fails: at worst the sink is silent."""


def no_ear(name: str) -> "Ear":
    """There is no input. Raises ProblemsError."""
    from trainer.music.problem import Problem, ProblemsError

    raise ProblemsError([Problem("", 0, 0, f"There is no input {name or 'at the sound card'}.")])


def usual_bands() -> "Bands":
    """The bands as they are without settings."""
    from trainer.listening.bands import Bands

    return Bands()


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Wiring:
    """Everything that the application does not make itself."""

    exercises: Exercises
    open_log: "Callable[[], Log]"
    """Gives the practice log, the same one every time; it is opened when it is first asked for."""
    memory: "Memory"
    load_rig: "Callable[[], Rig]"
    """Gives the rig, the same one every time; it is read when it is first asked for. Raises ProblemsError."""
    open_sound: OpenSound
    clock: Callable[[], float]
    """Seconds that never go back."""
    now: Callable[[], datetime]
    """The local time, with its zone."""
    open_input: Callable[[str], Any]
    """Opens a MIDI input by its name. Raises PortError."""
    midi_outputs: Callable[[], Sequence[str]] = field(default=tuple)
    midi_inputs: Callable[[], Sequence[str]] = field(default=tuple)
    pen: Pen = BOX
    news: News = field(default_factory=News)
    """What goes wrong outside the screens, before the first one and later."""
    open_ear: "Callable[[str], Ear]" = no_ear
    """Opens what the player is heard through: "" for the sound card's input, else a MIDI input by its name.

    Raises ProblemsError or PortError, with a plain sentence. May be called from a thread that is not the screen's."""
    known_late: LooksUp = nothing_known
    """Looks up how late a player is heard; called once an input is open, from any thread."""
    plays_again: Renders = renders_nothing
    """Renders what sounded in a pass, to find it in a take; from any thread."""
    bands: "Callable[[], Bands]" = usual_bands
    """Gives the bands that takes are judged by."""
    takes: "Callable[[], Takes | None]" = lambda: None
    """Gives the folder where takes are kept; None keeps none."""
    hear_again: "HearsAgain" = no_replay
    """Plays a kept take on the sound card; from any thread. Raises ProblemsError, with a plain sentence."""
    own_file: Callable[[Path], Path] = lambda path: path
    """Where changes to an exercise file are written: there, or for a bundled one a file in the player's own folder."""

    @property
    def log(self) -> "Log":
        """The practice log."""
        return self.open_log()

    @property
    def rig(self) -> "Rig":
        """The patches and click patterns. Raises ProblemsError."""
        return self.load_rig()
