"""The usual cautions, in plain words, as advice: every text, and where it belongs. The evidence behind them is low.

Sources: warm-up and rest, Rigg et al. 2003 and Chan & Ackermann 2014; hearing, WHO-ITU H.870 (80 dB for 40 hours a
week) and NIOSH (85 dBA for 8 hours).
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple, Self


class Where(StrEnum):
    """Where a caution is shown."""

    FIRST_START = "first start"
    BEFORE_PLAYING = "before playing"
    BREAK = "break"
    NOT_NOW = "not now"
    LEVEL = "level"
    HELP = "help"


class Caution(NamedTuple):
    """One text; once put away (`sittings.mark_seen`) it is shown in the help only."""

    id: str
    where: tuple[Where, ...]
    title: str
    text: str


CAUTIONS = (
    Caution(
        "warm-up",
        (Where.FIRST_START, Where.BEFORE_PLAYING, Where.HELP),
        "Warm up",
        "Play something slow and easy for three to five minutes before anything fast. "
        "Loosen shoulders, wrists and fingers.",
    ),
    Caution(
        "rest",
        (Where.FIRST_START, Where.BREAK, Where.HELP),
        "Rest",
        "Take five minutes off in every half hour. Put the guitar down, stand up, let your hands hang. "
        "Add time and tempo little by little: a sudden rise is what hurts most often.",
    ),
    Caution(
        "pain",
        (Where.FIRST_START, Where.NOT_NOW, Where.BREAK, Where.HELP),
        "Pain",
        "Playing should not hurt. With pain, numbness, tingling or a hand that does not obey, stop for today. "
        "If it comes back, see a doctor or a physiotherapist, best one who knows musicians.",
    ),
    Caution(
        "hearing",
        (Where.FIRST_START, Where.LEVEL, Where.HELP),
        "Hearing",
        "Keep the level so low that you can still talk over it, and give your ears breaks. "
        "This program cannot measure how loud it is at your ear. "
        "If your ears ring or sound is dull afterwards, it was too loud: if that stays, see a doctor.",
    ),
    Caution(
        "advice",
        (Where.FIRST_START, Where.HELP),
        "What this is",
        "These are the usual cautions, not medical advice. Your own body, your teacher and your doctor know better.",
    ),
)
BY_ID = {caution.id: caution for caution in CAUTIONS}


def cautions(where: Where, seen: frozenset[str] = frozenset()) -> tuple[Caution, ...]:
    """The cautions that belong here and were not put away; in the help, all of them."""
    return tuple(c for c in CAUTIONS if where in c.where and (where is Where.HELP or c.id not in seen))


PLAY_SECONDS = 25 * 60.0
"""The usual advice: five minutes off in every 25 to 30 (sources with `cautions`)."""
REST_SECONDS = 5 * 60.0
"""An uninterrupted rest of so long counts as the break."""
LATER_SECONDS = 5 * 60.0
"""Put off, it is offered again after so much more play."""


@dataclass(frozen=True, slots=True)
class BreakWatch:
    """How long the player has been playing. Time comes in from outside."""

    play_seconds: float = PLAY_SECONDS
    """Offer a break after so much play."""
    played: float = 0.0
    """Seconds played since the last break."""
    rested: float = 0.0
    """Seconds of rest since the last play."""
    put_off: float = 0.0
    """Seconds by which the player put the break off."""

    @property
    def due(self) -> bool:
        """Whether to offer a break, at the end of the pass."""
        return self.played >= self.play_seconds + self.put_off

    def after_play(self, seconds: float) -> Self:
        """So much was played."""
        return replace(self, played=self.played + seconds, rested=0.0)

    def after_rest(self, seconds: float) -> Self:
        """Nothing was played for so long; enough of it is a break, whether offered or not."""
        rested = self.rested + seconds
        return type(self)(self.play_seconds) if rested >= REST_SECONDS else replace(self, rested=rested)

    def later(self) -> Self:
        """The player puts the offered break off."""
        return replace(self, put_off=self.played - self.play_seconds + LATER_SECONDS) if self.due else self
