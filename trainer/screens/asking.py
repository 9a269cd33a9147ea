"""Small windows over a screen that ask: for a line of text, for one of several things, or just to have read something.

Their layout is read when the first of them is shown.
"""

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, ScreenResultType
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

CSS_PATH = "windows.tcss"
LOW = 12
"""In a terminal with fewer lines, a window takes all of it."""
BREAKPOINTS = [(0, "-low"), (LOW, "-high")]


class Window(ModalScreen[ScreenResultType]):
    """A small window over a screen."""

    CSS_PATH = CSS_PATH
    VERTICAL_BREAKPOINTS = BREAKPOINTS

    def dismiss(self, result: ScreenResultType | None = None) -> AwaitComplete:
        """Close the window, once: a key pressed twice at once must not close what lies below it."""
        return super().dismiss(result) if self in self.app.screen_stack else AwaitComplete()


class AskLine(Window[str | None]):
    """Asks for a line until it can be used; answers with None if the player went back."""

    BINDINGS = [Binding("escape", "dismiss(None)", "back", show=False)]  # noqa: RUF012 - Textual's

    def __init__(self, question: str, check: Callable[[str], str], value: str = "") -> None:
        """Ask.

        Args:
            question: what is asked for, with an example.
            check: gives the sentence for an answer that cannot be used; empty for one that can.
            value: the text to begin with.
        """
        super().__init__()
        self._question, self._check, self._value = question, check, value

    def compose(self) -> ComposeResult:
        """The question, the line, and room for what is wrong."""
        with Vertical(classes="window"):
            yield Static(self._question, markup=False)
            yield Input(self._value, id="answer")
            yield Static("enter: use it   escape: back", id="wrong", markup=False)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the answer, or say what is wrong with it."""
        wrong = self._check(event.value)
        if wrong:
            self.query_one("#wrong", Static).update(wrong)
        else:
            self.dismiss(event.value)


class Choose(Window[int | None]):
    """Asks for one of several things; answers with its index, or None if the player went back."""

    BINDINGS = [Binding("escape", "dismiss(None)", "back", show=False)]  # noqa: RUF012 - Textual's

    def __init__(self, question: str, choices: Sequence[str], now: int = 0) -> None:
        super().__init__()
        self._question, self._choices, self._now = question, choices, now

    def compose(self) -> ComposeResult:
        """The question and the choices."""
        with Vertical(classes="window"):
            yield Static(self._question, markup=False)
            choices = OptionList(*(Option(text) for text in self._choices), markup=False)
            yield choices

    def on_mount(self) -> None:
        """Put the cursor on the current choice."""
        self.query_one(OptionList).highlighted = self._now

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take it."""
        self.dismiss(event.option_index)


class Notice(Window[bool]):
    """Shows some texts under a title until they are put away; answers with True if that was by Enter."""

    BINDINGS = [  # noqa: RUF012 - Textual's
        Binding("enter", "dismiss(True)", "read", show=False),
        Binding("space", "dismiss(True)", "read", show=False),
        Binding("escape", "dismiss(False)", "later", show=False),
    ]

    def __init__(self, title: str, texts: Sequence[tuple[str, str]], foot: str) -> None:
        """Show it.

        Args:
            title: over everything.
            texts: a heading and a text each.
            foot: which key does what.
        """
        super().__init__()
        self._title, self._texts, self._foot = title, texts, foot

    def compose(self) -> ComposeResult:
        """The texts, one below the other."""
        with Vertical(classes="window wide"):
            yield Static(self._title, classes="title", markup=False)
            with VerticalScroll():
                for heading, text in self._texts:
                    yield Static(heading, classes="heading", markup=False)
                    yield Static(text, classes="text", markup=False)
            yield Static(self._foot, classes="foot", markup=False)

    def on_click(self) -> None:
        """Put it away."""
        self.dismiss(True)
