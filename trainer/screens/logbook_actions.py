"""What the player does in the logbook beside looking: finding, goals, export."""

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from textual import work
from textual.screen import Screen

from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.practice.carrying import export_file
from trainer.practice.goals import Goal, GoalState, change_goal, goals, put_goal
from trainer.practice.line import Line
from trainer.practice.log import Log
from trainer.screens.asking import AskLine, Choose
from trainer.screens.drawing.goal_rows import KnownGoal
from trainer.screens.drawing.logbook_views import FIGURES
from trainer.screens.logbook_facts import LineFacts, known_goal
from trainer.screens.logbook_list import LogList
from trainer.screens.messages import Tell
from trainer.screens.wiring import Wiring

ENDINGS = (".json", ".csv")
STATES = (GoalState.KEPT, GoalState.REACHED, GoalState.GIVEN_UP)
"""The order in which goals are listed."""


def wanted_tempo(text: str) -> tuple[float, date | None]:
    """A target, with a date or without: "160" or "160 2031-05-01".

    Raises:
        ValueError: with a sentence that says what is wrong.
    """
    words = text.replace(",", " ").split()
    if not words or len(words) > 2:
        raise ValueError("Type a tempo, and after it a date if you like: 160 2031-05-01.")
    try:
        target = float(words[0].removesuffix("bpm"))
    except ValueError:
        raise ValueError(f"{words[0]} is no tempo. Type one in bpm, such as 160.") from None
    if not SLOWEST_BPM <= target <= FASTEST_BPM:
        raise ValueError(f"A target lies between {SLOWEST_BPM} and {FASTEST_BPM} bpm.")
    try:
        return target, date.fromisoformat(words[1]) if len(words) > 1 else None
    except ValueError:
        raise ValueError(f"{words[1]} is no date. Type one such as 2031-05-01.") from None


def export_trouble(text: str) -> str:
    """What is wrong with a place for an export; nothing when it will do."""
    path = Path(text.strip()).expanduser()
    if path.suffix.casefold() not in ENDINGS:
        return "The name must end in .json (everything) or .csv (the passes)."
    if not path.is_absolute():
        return "Name the whole path, from / or from ~ on."
    try:
        if path.is_dir():
            return "This is a folder. Name a file in it."
        return "" if path.parent.is_dir() else "There is no such folder. Name one that exists."
    except OSError as error:
        return f"This place cannot be looked at: {error.strerror}."


class LogbookActions(Screen[None]):
    """The base of the logbook's screen."""

    wiring: Wiring
    list: LogList
    facts: LineFacts | None
    figure: int

    if TYPE_CHECKING:

        @property
        def today(self) -> date: ...  # noqa: D102 - the screen's
        @property
        def chosen_goal(self) -> KnownGoal | None: ...  # noqa: D102 - the screen's
        def title_of(self, exercise: str) -> str: ...  # noqa: D102 - the screen's
        def show_view(self) -> None: ...  # noqa: D102 - the screen's
        def open(self, number: int, line: Line | None = None) -> None: ...  # noqa: D102 - the screen's
        def ask(self) -> object: ...  # noqa: D102 - the screen's

    def action_next_figure(self) -> None:
        """Plot another figure of the takes."""
        self.figure = (self.figure + 1) % len(FIGURES)
        self.show_view()

    # -- finding ------------------------------------------------------------------------------------------------

    def action_find(self) -> None:
        """Go to an exercise by some of its words."""
        shown = self.list

        def check(text: str) -> str:
            return "" if shown.found(text, shown.opened) >= 0 else "No exercise has all of these words."

        def take(text: str | None) -> None:
            if text is not None:
                self.open(self.list.found(text, self.list.opened))

        self.app.push_screen(AskLine("Find an exercise with the words:", check), take)

    # -- goals --------------------------------------------------------------------------------------------------

    def forecast_goals(self) -> Iterator[tuple[KnownGoal, ...]]:
        """The goals without forecasts, then with them."""
        log = self.wiring.log
        found = sorted(log.ask(goals), key=lambda goal: STATES.index(goal.state))
        known = [KnownGoal(goal, self.title_of(goal.line.exercise)) for goal in found]
        yield tuple(known)
        for number, each in enumerate(known):
            if each.goal.state is GoalState.KEPT:
                known[number] = known_goal(log, each.goal, each.title, self.today)
                if number % 10 == 9:
                    yield tuple(known)
        yield tuple(known)

    def action_add_goal(self) -> None:
        """Ask for a target for the chosen line."""
        goal = self.chosen_goal
        line = goal.goal.line if goal else self.facts.line if self.facts else None
        if line is None:
            self.post_message(Tell("Choose a riff and a part first: a goal is set on one of them."))
            return

        def check(text: str) -> str:
            try:
                wanted_tempo(text)
            except ValueError as error:
                return str(error)
            return ""

        def take(text: str | None, line: Line = line) -> None:
            if text is not None:
                self.set_goal(line, *wanted_tempo(text))

        name = f"{self.title_of(line.exercise)}, {line.riff or 'the whole form'}, {line.part}"
        question = f"A goal for {name}: a tempo in bpm, and a date if you like, such as 160 2031-05-01"
        self.app.push_screen(AskLine(question, check), take)

    def set_goal(self, line: Line, target_bpm: float, by: date | None) -> None:
        """Keep a new goal."""
        now: datetime = self.wiring.now()
        self.wiring.log.change(put_goal, Goal(uuid4().hex, line, target_bpm, by, now))
        self.post_message(Tell(f"The goal is set: {target_bpm:g} bpm{f' by {by.isoformat()}' if by else ''}."))
        self.ask()

    def action_change_goal(self, state: str) -> None:
        """Call the chosen goal reached, give it up, or take it up again."""
        known = self.chosen_goal
        if known is None:
            self.post_message(Tell("Choose a goal first: 4 shows them."))
            return
        at_ms = round(self.wiring.now().timestamp() * 1000)
        self.wiring.log.change(change_goal, known.goal.uuid, GoalState(state), at_ms)
        said = {"reached": "The goal is reached.", "given up": "The goal is given up.", "kept": "The goal is kept."}
        self.post_message(Tell(said[state]))
        self.ask()

    # -- export -------------------------------------------------------------------------------------------------

    def action_export(self) -> None:
        """Ask for a file, and write the record there."""

        def take(text: str | None) -> None:
            if text is None:
                return
            path = Path(text.strip()).expanduser()
            if not path.exists():
                self.export(path)
                return
            question = f"{path} exists already."
            self.app.push_screen(
                Choose(question, ("Leave it as it is", "Replace it")), lambda index: replaced(path, index)
            )

        def replaced(path: Path, index: int | None) -> None:
            if index == 1:
                self.export(path)

        question = "Export the whole record to a file ending in .json (everything) or .csv (the passes):"
        self.app.push_screen(AskLine(question, export_trouble, str(Path.home() / "twinspur-log.json")), take)

    @work(thread=True, group="export")
    def export(self, path: Path) -> None:
        """Write the record, through a connection of its own so that no pass has to wait for it."""
        log = self.wiring.log
        aside = log
        try:
            if log.path is not None and log.kept:
                aside = Log.open(log.path, now=self.wiring.now)
            aside.ask(export_file, path)
        except OSError as error:
            why = error.strerror or str(error)
            self.post_message(Tell(f"The record cannot be written to {path}: {why}. Choose another place.", grave=True))
        else:
            self.post_message(Tell(f"{path}: the whole record."))
        finally:
            if aside is not log:
                aside.close()
