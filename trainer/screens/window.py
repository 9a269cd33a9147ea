"""Small windows over a screen: their layout is read when the first of them is shown."""

from textual.screen import ModalScreen, ScreenResultType

CSS_PATH = "windows.tcss"
LOW = 12
"""A terminal of fewer lines gives a window all its room."""
BREAKPOINTS = [(0, "-low"), (LOW, "-high")]


class Window(ModalScreen[ScreenResultType]):
    """One of them."""

    CSS_PATH = CSS_PATH
    VERTICAL_BREAKPOINTS = BREAKPOINTS
