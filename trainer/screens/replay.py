"""A kept take that is being heard again, as the screens know it."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from trainer.music.problem import Problem, ProblemsError

if TYPE_CHECKING:
    from trainer.listening.takes import KeptTake
    from trainer.playback.played_again import Beside


class NotOpenedError(ProblemsError):
    """The sound card's output cannot be opened: perhaps the stand's own sound holds it."""


class Replay(Protocol):
    """It plays until it is closed."""

    @property
    def ended(self) -> bool:
        """Whether all of it was heard. Raises what went wrong in making the sound."""

    @property
    def gone(self) -> str:
        """Why nothing more is heard, as a sentence; empty while all is well."""

    def close(self) -> None:
        """Be silent, and release the device. May be called twice."""


HearsAgain = Callable[["KeptTake", "Beside"], Replay]


def no_replay(take: "KeptTake", beside: "Beside") -> Replay:
    """Nothing can be heard. Raises ProblemsError."""
    raise ProblemsError([Problem("", 0, 0, "There is no sound here")])
