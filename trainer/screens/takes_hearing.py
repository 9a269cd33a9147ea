"""Hearing kept takes again: one at a time, in a thread that opens the sound card, waits for the end and closes it."""

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message
from textual.worker import Worker, get_current_worker

from trainer.music.printable import printable
from trainer.music.problem import ProblemsError
from trainer.playback.played_again import Beside
from trainer.screens.drawing import ink
from trainer.screens.drawing.wrapping import wrap
from trainer.screens.replay import NotOpenedError
from trainer.screens.widgets.rows import Rows

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.listening.takes import KeptTake
    from trainer.screens.wiring import Wiring

    _Base = Screen[None]
else:
    _Base = object

PAUSE_S = 0.03
"""Between two looks whether all was heard, or nothing more shall be."""

MOST_LINES = 3
"""For what there is to say."""


class HearsTakes(_Base):
    """The takes' screen, sounding."""

    wiring: "Wiring"
    _quiet: Callable[[], object]
    _free: Callable[[], bool]

    if TYPE_CHECKING:

        @property
        def chosen(self) -> KeptTake | None: ...  # noqa: D102 - the screen's
        def show_list(self) -> None: ...  # noqa: D102 - the screen's

    class Ended(Message):
        """A take is no longer heard: by itself, or because of something."""

        def __init__(self, turn: int, why: str) -> None:
            super().__init__()
            self.turn, self.why = turn, why

    def __init__(self) -> None:
        super().__init__()
        self.playing = ""
        """The name of the take that is heard."""
        self.beside = Beside.PART
        self.said = ""
        self._turn = 0
        self._worker: Worker[None] | None = None

    def action_play(self) -> None:
        """Hear the chosen take from its beginning, or stop what is heard."""
        take = self.chosen
        if self.playing:
            self.stop_hearing()
        elif take is not None:
            self.begin_hearing(take)

    def action_next_beside(self) -> None:
        """Something else beside it, at once."""
        order = tuple(Beside)
        self.beside = order[(order.index(self.beside) + 1) % len(order)]
        take = self.chosen
        if self.playing and take is not None and take.name == self.playing:
            self.begin_hearing(take)
        self.say("")

    def begin_hearing(self, take: "KeptTake") -> None:
        """Hear a take, in the place of another one; the stand is silent meanwhile."""
        self.stop_hearing()
        self._quiet()
        self.playing, self.said = take.name, ""
        self._worker = self._hear(take, self.beside, self._turn)
        self.show_list()
        self.show_playing()

    def stop_hearing(self) -> None:
        """Be silent."""
        self._turn += 1
        worker, self._worker = self._worker, None
        if worker is not None:
            worker.cancel()
        if self.playing:
            self.playing = ""
            self.show_list()
            self.show_playing()

    @work(thread=True, group="hearing")
    def _hear(self, take: "KeptTake", beside: Beside, turn: int) -> None:
        worker, why = get_current_worker(), ""
        try:
            try:
                replay = self.wiring.hear_again(take, beside)
            except NotOpenedError:
                if not self._free():
                    raise
                replay = self.wiring.hear_again(take, beside)
        except ProblemsError as error:
            self.post_message(self.Ended(turn, str(error.problems[0])))
            return
        try:
            while not (worker.is_cancelled or replay.ended):
                why = replay.gone
                if why:
                    break
                time.sleep(PAUSE_S)
        except ProblemsError as error:
            why = str(error.problems[0])
        finally:
            replay.close()
        self.post_message(self.Ended(turn, why))

    def on_hears_takes_ended(self, message: Ended) -> None:
        """Say why, where it is not its end."""
        if message.turn == self._turn:
            self.stop_hearing()
            self.say(message.why)

    def on_screen_suspend(self) -> None:
        """Be silent where another page is shown."""
        if self.app.current_mode != "stand":
            self.stop_hearing()

    def on_unmount(self) -> None:
        """Be silent."""
        self._turn += 1
        if self._worker is not None:
            self._worker.cancel()

    def say(self, sentence: str) -> None:
        """Say something to the player, until something else is heard."""
        self.said = printable(sentence)
        self.show_playing()

    def show_playing(self) -> None:
        """What is heard, or what there is to say."""
        heard = {Beside.PART: "with click and part", Beside.CLICK: "with the click", Beside.NOTHING: "alone"}
        how = heard[self.beside]
        keys = f"You hear it {how}. space stops." if self.playing else f"space: hear it {how}. w changes that."
        told = self.said or keys
        width = self.app.size.width
        kind = ink.STRONG if self.playing or self.said else ink.QUIET
        rows, widget = wrap([(told, kind)], width, 1, "")[:MOST_LINES], self.query_one("#playing", Rows)
        widget.styles.height = len(rows)
        widget.show(rows)
