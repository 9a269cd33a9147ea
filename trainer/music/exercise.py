"""An exercise: one file of prose and riffs, with a title, a key, tempos."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from trainer.music.instrument import STANDARD
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.part import PartSettings
from trainer.music.riff import Riff
from trainer.music.tempo import Tempo

COMMON_TIME = Meter(4, 4)


@dataclass(frozen=True, slots=True)
class FormStep:
    """One step of the form: a riff, played some times through."""

    riff: str
    times: int = 1


LADDER_BOUNDS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"step": (0.1, 50), "passes": (1, 20), "miss": (0, 10), "beyond": (0, 25)}
)
"""The least and the most of what an exercise may ask of the climb; a player's own settings have the same bounds."""


@dataclass(frozen=True, slots=True)
class LadderSettings:
    """What an exercise asks of the climb; empty fields leave the player's own settings in force."""

    step: str = ""
    """A rise per rung: "4" in bpm or "3%"."""
    passes: int | None = None
    """Clean passes in a row that earn the next rung."""
    miss: int | None = None
    """Rungs that a miss costs."""
    beyond: str = ""
    """How far above the target the last rung lies, in per cent: "3%"."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """One exercise file as a value."""

    id: str
    """Names the exercise for good: the record is kept under it."""
    title: str
    key: Key
    tempo: Tempo
    riffs: tuple[Riff, ...]
    meter: Meter = COMMON_TIME
    tuning: tuple[str, ...] = STANDARD
    by: str = ""
    licence: str = ""
    tags: tuple[str, ...] = ()
    form: tuple[FormStep, ...] = ()
    parts: tuple[PartSettings, ...] = ()
    ladder: LadderSettings = field(default_factory=LadderSettings)
    prose: str = ""
    """What stands before the first riff, CommonMark."""

    def riff(self, name: str) -> Riff | None:
        """The riff of that name, or None."""
        return next((riff for riff in self.riffs if riff.name == name), None)

    def settings(self, part: str) -> PartSettings:
        """What the front matter says of a part; the defaults where it says nothing."""
        return next((settings for settings in self.parts if settings.name == part), PartSettings(part))

    @property
    def part_names(self) -> tuple[str, ...]:
        """The names of all parts of all riffs, each once, in order of appearance."""
        return tuple(dict.fromkeys(name for riff in self.riffs for name in riff.part_names))

    @property
    def played(self) -> tuple[Riff, ...]:
        """The riffs in the order of the form, repeats written out; every riff once where there is no form."""
        if not self.form:
            return self.riffs
        named = {riff.name: riff for riff in self.riffs}
        return tuple(named[step.riff] for step in self.form for _ in range(step.times))
