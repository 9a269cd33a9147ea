"""Messages that go from one screen to another, by way of the application."""

from typing import TYPE_CHECKING

from textual.message import Message

if TYPE_CHECKING:
    from trainer.session.actions import Begin


class OpenExercise(Message):
    """Put an exercise on the stand."""

    def __init__(self, exercise: str, riff: str | None = None, part: str = "", begin: "Begin | None" = None) -> None:
        """Ask for an exercise.

        Args:
            exercise: its id.
            riff: the riff's name, "" for the whole form, None for where the player was, else the first riff.
            part: my part; empty for the one it was.
            begin: how to begin; None for as it was left.
        """
        super().__init__()
        self.exercise, self.riff, self.part, self.begin = exercise, riff, part, begin


class NowPlaying(Message):
    """What sounds now has changed."""

    def __init__(self, told: str) -> None:
        """Tell it.

        Args:
            told: riff, tempo and pass, as every screen shows them; empty when nothing is played.
        """
        super().__init__()
        self.told = told


class Tell(Message):
    """A sentence for the player, from any thread."""

    def __init__(self, sentence: str, *, grave: bool = False) -> None:
        """Say something.

        Args:
            sentence: plain words with their full stop.
            grave: whether it is a problem rather than news.
        """
        super().__init__()
        self.sentence, self.grave = sentence, grave
