"""What screens and commands work with: exercises, log, sound, inputs, clocks. Only the program's entry builds it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, Protocol

from trainer.session.lazy import Lazy
from trainer.session.notices import Notices

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.sound import Sound
    from trainer.listening.takes import KeptTake, Takes
    from trainer.music.exercise import Exercise
    from trainer.notation.head import Head
    from trainer.notation.index import Glimpse
    from trainer.playback.plan import Plan
    from trainer.playback.sink import Sink
    from trainer.playback.timeline import Timeline
    from trainer.practice.log import Log
    from trainer.session.inputs import Input
    from trainer.session.latency import CalibratedLatency
    from trainer.session.memory import SessionMemory
    from trainer.session.pedal_watch import Source
    from trainer.session.played_again import Beside
    from trainer.settings import Settings
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


class Replay(Protocol):
    """A kept take that is being heard; it plays until it is closed."""

    @property
    def ended(self) -> bool:
        """Whether all of it was heard. Raises what went wrong in making the sound."""

    @property
    def gone(self) -> str:
        """Why nothing more is heard, as a sentence; empty while all is well."""

    def close(self) -> None:
        """Be silent, and release the device. May be called twice."""


HearsAgain = Callable[["KeptTake", "Beside"], Replay]
"""Plays a kept take, alone or beside something."""


class Outputs(Protocol):
    """Where music sounds: the synth, MIDI ports, and for kept takes the sound card."""

    def names(self) -> Sequence[str]:
        """The names of the MIDI outputs that are connected."""

    def open(self, port: str) -> Sounding:
        """Open the synth for "", else the MIDI port of that name. It never fails: at worst the sink is silent."""

    def render_again(self, timeline: "Timeline", plan: "Plan", start: Fraction) -> "Sound | None":
        """Render one pass as the synth plays it from a frame of its clock on; None where it cannot. From any thread."""

    def hear_again(self, take: "KeptTake", beside: "Beside") -> Replay:
        """Play a kept take on the sound card, with what it was played to. From any thread.

        Raises ProblemsError, with a plain sentence.
        """


class Inputs(Protocol):
    """Through what the player is heard: the sound card and MIDI inputs. From any thread."""

    def names(self) -> Sequence[str]:
        """The names of the MIDI inputs that are connected."""

    def open(self, name: str) -> "Input":
        """Open the sound card's input for "", else the MIDI input of that name.

        Raises ProblemsError or PortError, with a plain sentence.
        """

    def open_midi(self, name: str) -> "Source":
        """Open a MIDI input for its messages. Raises PortError."""

    def latency_of(self, opened: "Input", sounding: Sounding) -> "CalibratedLatency | None":
        """How late a player is heard through an open input; None where it was not calibrated. Raises ProblemsError."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Machine:
    """What a practice session needs from outside itself: exercises, log, rig, sound, inputs, takes and clocks.

    >>> from trainer.session.own_machine import open_machine
    >>> machine = open_machine(practising=False)
    >>> machine.open_log.is_made  # each part is opened when it is first asked for
    False
    >>> machine.settings().exercise_folders[-1].name
    'exercises'
    >>> machine.close()
    """

    exercises: Exercises
    open_log: "Lazy[Log]"
    """Gives the practice log, the same one every time; it is opened when it is first asked for."""
    memory: "SessionMemory"
    settings: "Callable[[], Settings]"
    """Gives the player's settings, the same ones every time. May raise ProblemsError."""
    load_rig: "Callable[[], Rig]"
    """Gives the rig, the same one every time; it is read when it is first asked for. Raises ProblemsError."""
    takes: "Callable[[], Takes]"
    """Gives the folder where takes are kept."""
    outputs: Outputs
    inputs: Inputs
    clock: Callable[[], float]
    """Seconds that never go back."""
    now: Callable[[], datetime]
    """The local time, with its zone."""
    encoding: str = "utf-8"
    """The terminal's character encoding: screens draw with what it has."""
    notices: Notices = field(default_factory=Notices)
    """What goes wrong outside the screens, before the first one and later."""
    own_file: Callable[[Path], Path] = lambda path: path
    """Where changes to an exercise file are written: there, or for a bundled one a file in the player's own folder."""

    @property
    def bands(self) -> "Bands":
        """The bands that takes are judged by. Raises as `settings`."""
        return self.settings().bands

    @property
    def log(self) -> "Log":
        """The practice log."""
        return self.open_log()

    @property
    def rig(self) -> "Rig":
        """The patches and click patterns. Raises ProblemsError."""
        return self.load_rig()

    def close(self) -> None:
        """Write what is still to be remembered, and close the log."""
        self.memory.close()
        if self.open_log.is_made:
            self.log.close()
