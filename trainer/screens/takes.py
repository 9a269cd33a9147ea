"""The takes: what was kept of the music on the stand, to hear again, compare, mark, export and delete."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.message import Message
from textual.screen import Screen
from textual.worker import get_current_worker

from trainer.listening.comparison import beside_earlier, figures_beside
from trainer.listening.takes import KeptTake, Takes
from trainer.music.printable import printable
from trainer.music.problem import ProblemsError
from trainer.screens.actions import bindings_for, hinted
from trainer.screens.asking import AskLine, Choose
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, plain_row
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.prose import wrap
from trainer.screens.drawing.tables import heading_row, place
from trainer.screens.drawing.take_rows import COLUMNS, BesideEarlier, played_at, take_details, take_row
from trainer.screens.messages import Tell
from trainer.screens.take_player import HEARD_WITH, TakePlayer
from trainer.screens.takes_listed import TakeSearch, Whose, earlier, found
from trainer.screens.typed import take_file, trouble
from trainer.screens.widgets.page_lines import HintsView
from trainer.screens.widgets.row_list import RowList
from trainer.screens.widgets.rows import Rows, ScrolledRows

if TYPE_CHECKING:
    from trainer.practice.line import Line
    from trainer.session.machine import Machine

LOW, WIDE = 20, 110
"""Lines below which little is said about the chosen take; cells from which on it is described at the side."""
MOST_LINES = 3
"""Lines at the foot for what there is to say."""
KEEP, DELETE = "Keep it", "Delete it"


class TakesScreen(Screen[None]):
    """Kept takes, shown over the stand."""

    BINDINGS = bindings_for("takes")
    CSS_PATH = "takes.tcss"
    page = "takes"

    class Found(Message):
        """More takes were found, older than those found before."""

        def __init__(self, wanted: TakeSearch, takes: Sequence[KeptTake], whole: bool) -> None:
            super().__init__()
            self.wanted, self.takes, self.whole = wanted, takes, whole

    class TakeChanged(Message):
        """A take was marked, copied or deleted, or could not be."""

        def __init__(self, name: str, take: KeptTake | None, said: str) -> None:
            """Tell of it.

            Args:
                name: the take's name.
                take: what it is now; None when it is gone.
                said: a sentence for the player.
            """
            super().__init__()
            self.name, self.take, self.said = name, take, said

    def __init__(
        self,
        machine: "Machine",
        pen: Pen,
        line: "Line",
        title: str,
        *,
        quiet: Callable[[], object],
        free: Callable[[], bool],
    ) -> None:
        """Show the takes of a line first.

        Args:
            machine: what the screens work with.
            pen: the characters to draw with.
            line: exercise, riff and part.
            title: the exercise's title.
            quiet: stops whatever else sounds, before a take is heard.
            free: lets go of the sound card for as long as this is shown, if it was held; says whether it was. For any
                thread.
        """
        super().__init__()
        self.machine, self.pen, self._title, self._quiet = machine, pen, title, quiet
        self.player = TakePlayer(self, machine.outputs.hear_again, free)
        self.said = ""
        self.wanted = TakeSearch(Whose.LINE, line)
        self.takes: list[KeptTake] = []
        self.back = 0
        """How many takes back the chosen one is compared; 0 for not."""
        self.is_whole = False

    def compose(self) -> ComposeResult:
        """The title, the list, what there is to say about the chosen take, what is heard, and the keys."""
        yield Rows(id="title")
        yield HintsView(self.page, self.pen, id="hints")
        with Container(id="between"):
            with Vertical(id="left"):
                yield Rows(id="headings")
                yield RowList(id="list")
            yield ScrolledRows(id="about")
        yield Rows(id="playing")

    def on_mount(self) -> None:
        """Begin to look for takes."""
        self.query_one(HintsView).set_actions(hinted(self.page))
        self.lay_out()
        self.look()

    def on_resize(self) -> None:
        """Arrange everything anew."""
        self.lay_out()
        self.call_after_refresh(self.show_all)

    def lay_out(self) -> None:
        """Describe the chosen take below the list, or beside it."""
        self.set_class(self.app.size.width >= WIDE, "wide")
        self.set_class(self.app.size.height < LOW, "low")

    # -- finding ------------------------------------------------------------------------------------------------

    def look(self) -> None:
        """List the takes that are wanted, from the newest on."""
        self.takes, self.is_whole, self.back = [], False, 0
        self._look(self.wanted)
        self.show_all()

    @work(thread=True, exclusive=True, group="looking")
    def _look(self, wanted: TakeSearch) -> None:
        worker = get_current_worker()
        takes = self.machine.takes()
        for batch in found(takes, wanted, lambda: worker.is_cancelled):
            self.post_message(self.Found(wanted, batch, whole=False))
        if not worker.is_cancelled:
            self.post_message(self.Found(wanted, (), whole=True))

    def on_takes_screen_found(self, message: Found) -> None:
        """List them below the others."""
        if message.wanted == self.wanted:
            first = not self.takes
            self.takes += message.takes
            self.is_whole = message.whole
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
        """Draw everything."""
        self.show_list()
        self.show_chosen()
        self.show_playing()

    def show_list(self) -> None:
        """Draw the list and its length."""
        width = self.app.size.width
        many = f"{len(self.takes)} {'take' if len(self.takes) == 1 else 'takes'}"
        line = self.wanted.line
        whose = {
            Whose.LINE: f"{self._title}, {line.riff or 'the form'}, {line.part}",
            Whose.EXERCISE: self._title,
            Whose.ALL: "every exercise",
        }[self.wanted.whose]
        title = f" Takes  {whose}: {many}{'' if self.is_whole else ', looking for more'}"
        self.query_one("#title", Rows).show([plain_row(title, width, ink.HEAD)])
        rows = self.query_one(RowList)
        wide = rows.size.width or width
        self.query_one("#headings", Rows).show([heading_row(place(COLUMNS, wide), wide)])
        rows.set_rows(len(self.takes), self._draw_row, max(0, rows.cursor))

    def _draw_row(self, index: int, chosen: bool, width: int) -> CellRow:
        take = self.takes[index]
        playing = take.name == self.player.playing
        told = self.wanted.whose.told
        placed = place(COLUMNS, width)
        return take_row(take, placed, width, self.pen, chosen=chosen, playing=playing, told=told)

    def show_chosen(self, *, keep: bool = False) -> None:
        """Describe the chosen take in full; `keep` stays where the player has scrolled to."""
        take, about = self.chosen, self.query_one("#about", ScrolledRows)
        if take is None:
            none = f"No take of {self.wanted.whose.value} is kept." if self.is_whole else "Looking."
            farther = " o looks farther. L on the stand listens and keeps." if self.is_whole else ""
            about.set_source(lambda width: wrap([(f"{none}{farther}", ink.QUIET)], width, 1, ""))
            return
        before = self._before(take)
        about.set_source(lambda width: take_details(take, before, width, self.pen), keep=keep)

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

    def say(self, sentence: str) -> None:
        """Say something to the player, until something else is heard."""
        self.said = printable(sentence)
        self.show_playing()

    def show_playing(self) -> None:
        """Draw what is heard, or what there is to say."""
        playing, how = self.player.playing, HEARD_WITH[self.player.beside]
        keys = f"You hear it {how}. space stops." if playing else f"space: hear it {how}. w changes that."
        kind = ink.STRONG if playing or self.said else ink.QUIET
        rows = wrap([(self.said or keys, kind)], self.app.size.width, 1, "")[:MOST_LINES]
        widget = self.query_one("#playing", Rows)
        widget.styles.height = len(rows)
        widget.show(rows)

    def on_row_list_moved(self, message: RowList.Moved) -> None:
        """Describe another take."""
        self.back = 0
        self.say("")
        self.show_chosen()

    async def on_row_list_taken(self, message: RowList.Taken) -> None:
        """A click on the chosen take: hear it, or stop."""
        self.action_play()

    def on_tell(self, message: Tell) -> None:
        """Show the sentence below the list."""
        message.stop()
        self.say(message.sentence)

    # -- choosing, comparing ------------------------------------------------------------------------------------

    def action_cursor_by(self, step: int) -> None:
        """Another take."""
        self.query_one(RowList).move(step)

    def action_page_by(self, pages: int) -> None:
        """Down, or up, by windows."""
        self.query_one(RowList).page(pages)

    def action_about_by(self, rows: int) -> None:
        """Scroll what is said about the take."""
        self.query_one("#about", ScrolledRows).scroll_rows(rows * 3)

    def action_next_scope(self) -> None:
        """List the takes of more, or of less."""
        order = tuple(Whose)
        whose = order[(order.index(self.wanted.whose) + 1) % len(order)]
        self.wanted = TakeSearch(whose, self.wanted.line)
        self.query_one(RowList).set_rows(0, self._draw_row)
        self.look()

    def action_compare_by(self, step: int) -> None:
        """Compare with the take before, or with an earlier or later one."""
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

    # -- hearing ------------------------------------------------------------------------------------------------

    def action_play(self) -> None:
        """Hear the chosen take from its beginning, or stop what is heard."""
        take = self.chosen
        if self.player.playing:
            self.stop_playing()
        elif take is not None:
            self.play(take)

    def action_next_beside(self) -> None:
        """Let something else sound with the take, at once."""
        self.player.next_beside()
        take = self.chosen
        if take is not None and take.name == self.player.playing:
            self.play(take)
        self.say("")

    def play(self, take: KeptTake) -> None:
        """Play a take instead of any other; the stand is silent meanwhile."""
        self.player.stop()
        self._quiet()
        self.said = ""
        self.player.play(take)
        self.show_list()
        self.show_playing()

    def stop_playing(self) -> None:
        """Be silent."""
        was_playing = self.player.playing
        self.player.stop()
        if was_playing:
            self.show_list()
            self.show_playing()

    def on_take_player_ended(self, message: TakePlayer.Ended) -> None:
        """Say why, if the take is not simply over."""
        if self.player.is_current(message):
            self.stop_playing()
            self.say(message.why)

    def on_screen_suspend(self) -> None:
        """Be silent where another page is shown."""
        if self.app.current_mode != "stand":
            self.stop_playing()

    def on_unmount(self) -> None:
        """Be silent."""
        self.player.stop()

    # -- keeping ------------------------------------------------------------------------------------------------

    def action_mark(self) -> None:
        """Mark the take, or take the mark away."""
        take = self.chosen
        if take is not None:
            said = "no longer marked." if take.marked else "marked: it is never deleted to make room."
            self._change(take, lambda takes: takes.mark(take.name, marked=not take.marked), f"The take is {said}")

    def action_export(self) -> None:
        """Ask for a file, and copy the take there."""
        take = self.chosen
        if take is None:
            return

        def export(text: str | None) -> None:
            if text is not None:
                target = take_file(text, take.sound.suffix)
                where = target / take.sound.name if target.is_dir() else target
                said = f"Copied: {where.name}, in {where.parent}."
                self._change(take, lambda takes: takes.export(take.name, target), said)

        check = trouble(partial(take_file, ending=take.sound.suffix))
        question = f"Into which file ({take.sound.suffix}) or folder?"
        self.app.push_screen(AskLine(question, check, f"~/{take.sound.name}"), export)

    def action_delete(self) -> None:
        """Delete the take, after asking once."""
        take = self.chosen
        if take is None:
            return

        def delete(index: int | None) -> None:
            if index == 1:
                self._change(take, lambda takes: takes.delete(take.name), f"The take of {played_at(take)} is gone.")

        marked = " It is marked." if take.marked else ""
        question = f"Delete the take of {played_at(take, seconds=True)} for good?{marked}"
        self.app.push_screen(Choose(question, (KEEP, DELETE)), delete)

    def _change(self, take: KeptTake, what: Callable[[Takes], object], said: str) -> None:
        if take.name == self.player.playing:
            self.stop_playing()
        self._change_in_thread(take.name, what, said)

    @work(thread=True, group="changing takes")
    def _change_in_thread(self, name: str, what: Callable[[Takes], object], said: str) -> None:
        takes = self.machine.takes()
        try:
            what(takes)
        except ProblemsError as error:
            said = str(error.problems[0])
        self.post_message(self.TakeChanged(name, takes.take(name), said))

    def on_takes_screen_take_changed(self, message: TakeChanged) -> None:
        """Show the take as it is now."""
        at = next((index for index, take in enumerate(self.takes) if take.name == message.name), None)
        if at is not None:
            self.takes[at : at + 1] = [message.take] if message.take is not None else []
        self.say(message.said)
        self.show_list()
        self.show_chosen(keep=message.take is not None)
