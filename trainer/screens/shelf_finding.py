"""Finding exercises on the shelf: filters, orders and folders, each asked for in a small window."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.screen import Screen
from textual.widgets import Input

from trainer.screens.messages import Tell
from trainer.screens.shelf_contents import Contents
from trainer.screens.shelf_entries import BANDS, Order, Wanted, keys, tags

if TYPE_CHECKING:
    from trainer.screens.wiring import Wiring

WANTED = "shelf wanted"
"""Where the memory keeps what is looked for."""
ORDERS = {
    Order.TITLE: "title",
    Order.KEY: "key",
    Order.TARGET: "target tempo",
    Order.BEST: "best clean tempo, nearest to its target first",
    Order.LAST: "last played, the newest first",
    Order.DUE: "due, the longest due first",
}
"""As the player is asked."""


class Finding(Screen[None]):
    """The shelf's actions that choose what is listed. What is looked for is kept for the next start."""

    def __init__(self, wiring: "Wiring") -> None:
        """Look for what was looked for last.

        Args:
            wiring: everything from outside.
        """
        super().__init__()
        self.wiring = wiring
        self.contents = Contents(Wanted.from_dict(wiring.memory.get(WANTED)))

    if TYPE_CHECKING:

        def show_wanted(self) -> None: ...  # noqa: D102 - the screen's
        def scan(self) -> object: ...  # noqa: D102 - the screen's
        def narrow(self, wanted: Wanted) -> None: ...  # noqa: D102 - the screen's

    @property
    def wanted(self) -> Wanted:
        """What is looked for."""
        return self.contents.wanted

    def keep_wanted(self) -> None:
        """Remember what is looked for, and forget what was."""
        told = self.wanted.as_dict()
        if told or self.wiring.memory.get(WANTED):
            self.wiring.memory.put(WANTED, told)

    def action_choose_tag(self) -> None:
        """Ask for a tag."""
        found = tags(self.contents.all)
        self._choose(
            "Show the exercises with the tag", found, self.wanted.tag, lambda tag: self.wanted._replace(tag=tag)
        )

    def action_choose_key(self) -> None:
        """Ask for a key."""
        found = keys(self.contents.all)
        self._choose("Show the exercises in the key", found, self.wanted.key, lambda key: self.wanted._replace(key=key))

    def action_choose_band(self) -> None:
        """Ask for target tempos."""
        sound = [entry.head.target_bpm for entry in self.contents.all if not entry.wrong]
        found = tuple((band.title, sum(band.low <= bpm < band.high for bpm in sound)) for band in BANDS)
        by_title = {band.title: band for band in BANDS}
        self._choose(
            "Show the exercises with a target of",
            found,
            self.wanted.band.title if self.wanted.band else "",
            lambda title: self.wanted._replace(band=by_title.get(title)),
        )

    def _choose(
        self, question: str, found: Sequence[tuple[str, int]], now: str, change: Callable[[str], Wanted]
    ) -> None:
        from trainer.screens.asking import Choose

        values = ["", *(value for value, _ in found)]
        names = [f"any ({len(self.contents.all)})", *(f"{value} ({count})" for value, count in found)]

        def take(index: int | None) -> None:
            if index is not None:
                self.narrow(change(values[index]))

        self.app.push_screen(Choose(question, names, values.index(now) if now in values else 0), take)

    def action_choose_order(self) -> None:
        """Ask for an order."""
        from trainer.screens.asking import Choose

        orders = list(ORDERS)

        def take(index: int | None) -> None:
            if index is not None:
                self.action_order_by(orders[index].value)

        self.app.push_screen(
            Choose("Order the exercises by", [*ORDERS.values()], orders.index(self.wanted.order)), take
        )

    def action_order_by(self, name: str) -> None:
        """Order by a column."""
        self.narrow(self.wanted._replace(order=Order(name)))

    def action_toggle_due(self) -> None:
        """Just what is due, or everything."""
        self.narrow(self.wanted._replace(due=not self.wanted.due))

    def action_show_all(self) -> None:
        """Leave nothing out."""
        find = self.query_one("#find", Input)
        with self.prevent(Input.Changed):
            find.value = ""
        self.narrow(Wanted(order=self.wanted.order))

    def action_add_folder(self) -> None:
        """Ask for a folder, and keep it in the settings."""
        from trainer.screens.asking import AskLine

        def take(answer: str | None) -> None:
            if answer is not None:
                self.keep_folder(Path(answer.strip()))

        question = "Add a folder with exercises of your own, such as ~/exercises:"
        self.app.push_screen(AskLine(question, _folder_trouble), take)

    @work(thread=True, group="settings")
    def keep_folder(self, folder: Path) -> None:
        """Write it into the settings, and look into it."""
        from trainer.music.problem import ProblemsError

        try:
            new = self.wiring.exercises.add_folder(folder)
        except ProblemsError as error:
            self.post_message(Tell(f"{error.problems[0]}", grave=True))
            return
        told = "is on the shelf from now on" if new else "was on the shelf already"
        self.post_message(Tell(f"{folder} {told}."))
        self.app.call_from_thread(self.scan)


def _folder_trouble(answer: str) -> str:
    """What is wrong with a folder that was typed; nothing when it is right."""
    path = Path(answer.strip()).expanduser()
    if not answer.strip():
        return "Name a folder, or go back with escape."
    if not path.is_absolute():
        return "Name the whole path, from / or from ~ on."
    try:
        return "" if path.is_dir() else "There is no such folder. Name one that exists."
    except OSError as error:
        return f"This folder cannot be read: {error.strerror}."
