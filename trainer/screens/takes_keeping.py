"""What the takes' keys do about keeping: mark, copy into a file, delete; in a thread, and told."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message

from trainer.listening.takes import KeptTake, Takes
from trainer.music.problem import ProblemsError
from trainer.screens.asking import AskLine, Choose
from trainer.screens.drawing.kept_rows import played_at
from trainer.screens.takes_hearing import HearsTakes

KEEP, DELETE = "Keep it", "Delete it"


class KeepsTakes(HearsTakes):
    """The takes' screen, keeping."""

    takes: list[KeptTake]

    if TYPE_CHECKING:

        def show_chosen(self, *, keep: bool = False) -> None: ...  # noqa: D102 - the screen's

    class Carried(Message):
        """Something was done with a take: what it is now, None for gone; or what went wrong."""

        def __init__(self, name: str, take: KeptTake | None, said: str) -> None:
            super().__init__()
            self.name, self.take, self.said = name, take, said

    def action_mark(self) -> None:
        """Mark it, or not."""
        take = self.chosen
        if take is not None:
            said = "no longer marked." if take.marked else "marked: it is never deleted to make room."
            self._carry_out(take, lambda takes: takes.mark(take.name, marked=not take.marked), f"The take is {said}")

    def action_export(self) -> None:
        """Ask for a file, and copy the take there."""
        take = self.chosen
        if take is None:
            return

        def check(text: str) -> str:
            target = Path(text.strip()).expanduser()
            try:
                if not target.is_absolute():
                    return "Name the whole path, from / or from ~ on."
                if target.is_dir():
                    return ""
                if target.suffix.casefold() != take.sound.suffix:
                    return f"The name must end in {take.sound.suffix}, or be a folder."
                if target.exists():
                    return "This file exists already. Choose another name."
                return "" if target.parent.is_dir() else "There is no such folder. Name one that exists."
            except (OSError, ValueError) as error:
                return f"This place cannot be used: {error}."

        def export(text: str | None) -> None:
            if text is not None:
                target = Path(text.strip()).expanduser()
                where = target / take.sound.name if target.is_dir() else target
                self._carry_out(
                    take, lambda takes: takes.export(take.name, target), f"Copied: {where.name}, in {where.parent}."
                )

        usual = f"~/{take.sound.name}"
        self.app.push_screen(AskLine(f"Into which file ({take.sound.suffix}) or folder?", check, usual), export)

    def action_delete(self) -> None:
        """Delete it, if the player says so."""
        take = self.chosen
        if take is None:
            return

        def delete(index: int | None) -> None:
            if index == 1:
                self._carry_out(take, lambda takes: takes.delete(take.name), f"The take of {played_at(take)} is gone.")

        marked = " It is marked." if take.marked else ""
        question = f"Delete the take of {played_at(take, seconds=True)} for good?{marked}"
        self.app.push_screen(Choose(question, (KEEP, DELETE)), delete)

    def _carry_out(self, take: KeptTake, what: Callable[[Takes], object], said: str) -> None:
        if take.name == self.playing:
            self.stop_hearing()
        self._carry(take.name, what, said)

    @work(thread=True, group="carrying out")
    def _carry(self, name: str, what: Callable[[Takes], object], said: str) -> None:
        takes = self.wiring.takes()
        if takes is None:
            return
        try:
            what(takes)
        except ProblemsError as error:
            said = str(error.problems[0])
        self.post_message(self.Carried(name, takes.take(name), said))

    def on_keeps_takes_carried(self, message: Carried) -> None:
        """Show the take as it is now."""
        at = next((index for index, take in enumerate(self.takes) if take.name == message.name), None)
        if at is not None:
            self.takes[at : at + 1] = [message.take] if message.take is not None else []
        self.say(message.said)
        self.show_list()
        self.show_chosen(keep=message.take is not None)
