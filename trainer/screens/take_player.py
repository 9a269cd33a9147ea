"""Playing kept takes: one at a time, in a thread that opens the sound card, waits for the end and closes it."""

import time
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from textual.message import Message
from textual.worker import Worker, get_current_worker

from trainer.music.problem import ProblemsError
from trainer.session.played_again import Beside
from trainer.session.replay import NotOpenedError

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.listening.takes import KeptTake
    from trainer.session.machine import HearsAgain

LOOK_SECONDS = 0.03
"""Pause between two looks at whether the take is over, or was stopped."""
HEARD_WITH = {Beside.PART: "with click and part", Beside.CLICK: "with the click", Beside.NOTHING: "alone"}
"""What a take is heard with, as the player reads it."""


class TakePlayer:
    """Plays takes for a screen, which is told by `Ended` when one is over."""

    class Ended(Message):
        """A take came to its end, or could not be played on."""

        def __init__(self, turn: int, why: str) -> None:
            """Say so.

            Args:
                turn: which playing ended; another one may have begun since.
                why: what went wrong, in a sentence; empty for a take that is simply over.
            """
            super().__init__()
            self.turn, self.why = turn, why

    def __init__(self, screen: "Screen[None]", hear_again: "HearsAgain", free: Callable[[], bool]) -> None:
        """Play nothing yet.

        Args:
            screen: runs the thread and gets the message.
            hear_again: opens the sound of a take.
            free: lets go of the sound card where it is held; says whether it was. For any thread.
        """
        self._screen, self._hear_again, self._free = screen, hear_again, free
        self.playing = ""
        """The name of the take that sounds; empty in silence."""
        self.beside = Beside.PART
        """What sounds with it."""
        self._turn = 0
        self._worker: Worker[None] | None = None

    def play(self, take: "KeptTake") -> None:
        """Play a take from its beginning, instead of any other."""
        self.stop()
        self.playing = take.name
        job = partial(self._play, take, self.beside, self._turn)
        self._worker = self._screen.run_worker(job, thread=True, group="playing takes")

    def stop(self) -> None:
        """Be silent."""
        self._turn += 1
        self.playing = ""
        worker, self._worker = self._worker, None
        if worker is not None:
            worker.cancel()

    def next_beside(self) -> None:
        """Let something else sound with takes, from the next one on."""
        order = tuple(Beside)
        self.beside = order[(order.index(self.beside) + 1) % len(order)]

    def is_current(self, ended: Ended) -> bool:
        """Whether a message is about the take that sounds now."""
        return ended.turn == self._turn

    def _play(self, take: "KeptTake", beside: Beside, turn: int) -> None:
        worker, why = get_current_worker(), ""
        try:
            try:
                replay = self._hear_again(take, beside)
            except NotOpenedError:
                if not self._free():
                    raise
                replay = self._hear_again(take, beside)
            try:
                while not (worker.is_cancelled or replay.ended or why):
                    time.sleep(LOOK_SECONDS)
                    why = replay.gone
            finally:
                replay.close()
        except ProblemsError as error:
            why = str(error.problems[0])
        self._screen.post_message(self.Ended(turn, why))
