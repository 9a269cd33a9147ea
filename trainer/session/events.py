"""What a practice session tells: its answer to an action, and the events that one listener hears, in any thread."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from trainer.practice.cautions import Where
from trainer.practice.passes import Pass
from trainer.practice.verdict import Outcome

if TYPE_CHECKING:
    from trainer.playback.share import PassReport
    from trainer.session.heard_pass import JudgedPass
    from trainer.session.state import SessionState


class Reply(NamedTuple):
    """The answer to an action."""

    said: str | None = None
    """A sentence for the player, empty where an older one has lost its meaning; None leaves that as it is."""
    refused: bool = False
    """Whether nothing was done; `said` tells why."""
    caution: Where | None = None
    """Which cautions belong here."""


@dataclass(frozen=True, slots=True)
class Changed:
    """The state, or whether it plays, is another one."""

    before: "SessionState"
    after: "SessionState"


@dataclass(frozen=True, slots=True)
class PassCounted:
    """A pass was played to its end and is in the log; it sounds for some tens of ms more."""

    played: Pass
    report: "PassReport"


@dataclass(frozen=True, slots=True)
class PassSettled:
    """How the last pass counts is known, otherwise than by an answer to `JudgePass`."""

    outcome: Outcome
    said: str
    """What follows from it, as a sentence."""
    caution: Where | None = None


@dataclass(frozen=True, slots=True)
class PassHeard:
    """A recorded pass was judged."""

    heard: "JudgedPass"


@dataclass(frozen=True, slots=True)
class InputGone:
    """Nothing more is heard from the input."""

    sentence: str


@dataclass(frozen=True, slots=True)
class BreakDue:
    """So much was played that a break would do good."""


@dataclass(frozen=True, slots=True)
class Told:
    """A sentence for the player."""

    sentence: str


SessionEvent = Changed | PassCounted | PassSettled | PassHeard | InputGone | BreakDue | Told
