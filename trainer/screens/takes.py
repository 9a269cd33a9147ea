"""The takes: what was kept of the music on the stand, to be heard again, compared, marked, exported and deleted."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.message import Message
from textual.screen import Screen
from textual.worker import get_current_worker

from trainer.listening.earlier import beside_earlier, figures_beside
from trainer.listening.takes import KeptTake
from trainer.screens.actions import APPLICATION, actions_for
from trainer.screens.bindings import bindings_for
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, plain_row
from trainer.screens.drawing.kept_rows import COLUMNS, BesideEarlier, take_row, take_told
from trainer.screens.drawing.table_row import heading_row, place
from trainer.screens.drawing.wrapping import wrap
from trainer.screens.messages import Tell
from trainer.screens.takes_keeping import KeepsTakes
from trainer.screens.takes_listed import Wanted, Whose, earlier, found
from trainer.screens.widgets.hints_view import HintsView
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import Rows
from trainer.screens.widgets.scrolled_rows import ScrolledRows

if TYPE_CHECKING:
    from trainer.practice.line import Line
    from trainer.screens.wiring import Wiring

LOW, WIDE = 20, 110
"""Lines under which little is told of the chosen take; cells from which on it is told at the side."""


class TakesScreen(KeepsTakes, Screen[None]):
    """Kept takes over the stand."""

    BINDINGS = bindings_for("takes")
    CSS_PATH = "takes.tcss"
    page = "takes"

    class Found(Message):
        """Some takes were found, which come after those that were found before."""

        def __init__(self, wanted: Wanted, takes: Sequence[KeptTake], whole: bool) -> None:
            super().__init__()
            self.wanted, self.takes, self.whole = wanted, takes, whole

    def __init__(
        self, wiring: "Wiring", line: "Line", title: str, quiet: Callable[[], object], free: Callable[[], bool]
    ) -> None:
        """Show the takes of a line first.

        Args:
            wiring: everything from outside.
            line: exercise, riff and part.
            title: how the exercise is called.
            quiet: lets what else sounds stop, before a take is heard.
            free: lets go of the sound card for as long as this is shown, where it was held; says whether it was. For
                any thread.
        """
        super().__init__()
        self.wiring, self._title, self._quiet, self._free = wiring, title, quiet, free
        self.wanted = Wanted(Whose.LINE, line)
        self.takes: list[KeptTake] = []
        self.back = 0
        """How many takes back the chosen one is compared; 0 for not."""
        self._whole = False

    def compose(self) -> ComposeResult:
        """The title, the list, what is told of the chosen one, what is heard, and the keys."""
        yield Rows(id="title")
        yield HintsView(id="hints")
        with Container(id="between"):
            with Vertical(id="left"):
                yield Rows(id="headings")
                yield RowList(id="list")
            yield ScrolledRows(id="about")
        yield Rows(id="playing")

    def on_mount(self) -> None:
        """Begin to look for takes."""
        self.query_one(HintsView).set_actions((*actions_for(self.page), *APPLICATION), self.wiring.pen)
        self.lay_out()
        self.look()

    def on_resize(self) -> None:
        """Arrange everything anew."""
        self.lay_out()
        self.call_after_refresh(self.show_all)

    def lay_out(self) -> None:
        """Put what is told of a take below the list, or beside it."""
        self.set_class(self.app.size.width >= WIDE, "wide")
        self.set_class(self.app.size.height < LOW, "low")

    # -- finding ------------------------------------------------------------------------------------------------

    def look(self) -> None:
        """List the takes that are wanted, from the newest on."""
        self.takes, self._whole, self.back = [], False, 0
        self._look(self.wanted)
        self.show_all()

    @work(thread=True, exclusive=True, group="looking")
    def _look(self, wanted: Wanted) -> None:
        worker = get_current_worker()
        takes = self.wiring.takes()
        for batch in found(takes, wanted, lambda: worker.is_cancelled) if takes is not None else ():
            self.post_message(self.Found(wanted, batch, whole=False))
        if not worker.is_cancelled:
            self.post_message(self.Found(wanted, (), whole=True))

    def on_takes_screen_found(self, message: Found) -> None:
        """List them below the others."""
        if message.wanted == self.wanted:
            first = not self.takes
            self.takes += message.takes
            self._whole = message.whole
            self.show_list()
            if first or message.whole:
                self.show_chosen()

    @property
    def chosen(self) -> KeptTake | None:
        """The take under the cursor."""
        at = self.query_one(RowList).cursor
        return self.takes[at] if 0 <= at < len(self.takes) else None

    # -- showing ------------------------------------------------------------------------------------------------

    def show_all(self) -> None:
        """Show everything as it is now."""
        self.show_list()
        self.show_chosen()
        self.show_playing()

    def show_list(self) -> None:
        """Show the list and how long it is."""
        width = self.app.size.width
        many = f"{len(self.takes)} {'take' if len(self.takes) == 1 else 'takes'}"
        line = self.wanted.line
        whose = {
            Whose.LINE: f"{self._title}, {line.riff or 'the form'}, {line.part}",
            Whose.EXERCISE: self._title,
            Whose.ALL: "every exercise",
        }[self.wanted.whose]
        title = f" Takes  {whose}: {many}{'' if self._whole else ', looking for more'}"
        self.query_one("#title", Rows).show([plain_row(title, width, ink.HEAD)])
        rows = self.query_one(RowList)
        wide = rows.size.width or width
        self.query_one("#headings", Rows).show([heading_row(place(COLUMNS, wide), wide)])
        rows.set_rows(len(self.takes), self._draw_row, max(0, rows.cursor))

    def _draw_row(self, index: int, chosen: bool, width: int) -> Row:
        take = self.takes[index]
        playing = take.name == self.playing
        told = self.wanted.whose.told
        placed = place(COLUMNS, width)
        return take_row(take, placed, width, self.wiring.pen, chosen=chosen, playing=playing, told=told)

    def show_chosen(self, *, keep: bool = False) -> None:
        """Tell everything of the chosen take."""
        take, about = self.chosen, self.query_one("#about", ScrolledRows)
        if take is None:
            none = f"No take of {self.wanted.whose.value} is kept." if self._whole else "Looking."
            farther = " o looks farther. L on the stand listens and keeps." if self._whole else ""
            about.set_source(lambda width: wrap([(f"{none}{farther}", ink.QUIET)], width, 1, ""))
            return
        before = self._before(take)
        about.set_source(lambda width: take_told(take, before, width, self.wiring.pen), keep=keep)

    def _before(self, take: KeptTake) -> BesideEarlier | None:
        if not self.back or take.verdict is None:
            return None
        others = earlier(self.takes, self.query_one(RowList).cursor)
        if not others:
            return None
        self.back = min(self.back, len(others))
        other = others[self.back - 1]
        if other.verdict is None:
            return None
        sentences = beside_earlier(other.verdict, take.verdict) or ("One of them could not be followed.",)
        return BesideEarlier(other, sentences, figures_beside(other.verdict, take.verdict))

    def on_row_list_moved(self, message: RowList.Moved) -> None:
        """Tell of another take."""
        self.back = 0
        self.say("")
        self.show_chosen()

    async def on_row_list_taken(self, message: RowList.Taken) -> None:
        """A click on the chosen take: hear it, or stop."""
        self.action_play()

    def on_tell(self, message: Tell) -> None:
        """Say it below the list."""
        message.stop()
        self.say(message.sentence)

    # -- actions ------------------------------------------------------------------------------------------------

    def action_cursor_by(self, step: int) -> None:
        """Another take."""
        self.query_one(RowList).move(step)

    def action_page_by(self, pages: int) -> None:
        """Down, or up, by windows."""
        self.query_one(RowList).page(pages)

    def action_about_by(self, rows: int) -> None:
        """Scroll what is told."""
        self.query_one("#about", ScrolledRows).scroll_rows(rows * 3)

    def action_next_scope(self) -> None:
        """The takes of more, or of less."""
        order = tuple(Whose)
        whose = order[(order.index(self.wanted.whose) + 1) % len(order)]
        self.wanted = Wanted(whose, self.wanted.line)
        self.query_one(RowList).set_rows(0, self._draw_row)
        self.look()

    def action_compare_by(self, step: int) -> None:
        """Beside the take before, or one before that."""
        take = self.chosen
        if take is None:
            return
        others = earlier(self.takes, self.query_one(RowList).cursor)
        if take.verdict is None or not others:
            self.say("There is no earlier take of it to compare with.")
            return
        self.back = min(max(0, self.back + step), len(others))
        self.show_chosen()

    def action_leave(self) -> None:
        """Back to the stand."""
        self.dismiss()
