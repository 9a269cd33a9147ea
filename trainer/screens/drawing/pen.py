"""The characters that lines, marks and figures are drawn with: box drawing where the terminal has UTF-8, else ASCII."""

from typing import NamedTuple


class Pen(NamedTuple):
    """One set of drawing characters."""

    string: str
    """A string's line."""
    bar: str
    """A bar line where it crosses a string."""
    nut: str
    """A string's line where a system begins."""
    last: str
    """A string's line where a system ends."""
    down: str
    """A down stroke."""
    up: str
    """An up stroke."""
    span: str
    """What draws a mark out over the notes it lasts for."""
    stop: str
    """Where such a mark ends."""
    playhead: str
    """A moment that stands out: the column that sounds, a date that is wanted."""
    chosen: str
    """Stands before what is chosen."""
    loop_start: str
    loop_end: str
    """Stand around what is chosen among many."""
    repeat: str
    """The bar line of a repeat sign, which has a colon at the side of what is repeated."""
    dot: str
    """Between words of one line."""
    arrow: str
    """From one tempo to the next."""
    full: str
    """A rung that was climbed."""
    empty: str
    """A rung that is still to climb."""
    upper: str
    """The upper half of a cell."""
    lower: str
    """The lower half of a cell."""
    block: str
    """A whole cell."""
    heard: str
    silent: str
    flat: str
    """A horizontal rule."""
    early: str
    """Stands before the milliseconds of a stroke that came too early."""
    late: str
    """Stands after the milliseconds of a stroke that came too late."""
    clean: str
    """Before the word for a pass that was clean."""
    lost: str
    """A written stroke that was not heard."""
    other: str
    """A stroke that was heard at another pitch."""
    ahead: str
    """The day on which a tempo is expected."""
    days: str
    """A day of the calendar, from no practice to the most."""
    unicode: bool
    """Whether braille dots, half cells and arrows may be drawn too."""


BOX = Pen(
    string="─", bar="│", nut="├", last="┤", down="⊓", up="V", span="╌", stop="╯", playhead="▼", chosen="▸",
    repeat="║", loop_start="[", loop_end="]",  dot="·", arrow="→", full="▰", empty="▱", upper="▀", lower="▄", block="█",
    heard="♪", silent="x", flat="─", early="«", late="»", clean="✓", lost="✗", other="≠",
    ahead="◇", days="·░▒▓█", unicode=True,
)  # fmt: skip
"""For terminals with UTF-8."""

ASCII = Pen(
    string="-", bar="|", nut="|", last="|", down="d", up="u", span="-", stop="'", playhead="v", chosen=">",
    repeat="|", loop_start="[", loop_end="]",  dot="-", arrow="->", full="#", empty=".", upper="#", lower="#",
    block="#", heard="*", silent="-", flat="-", early="<", late=">", clean="+", lost="x", other="#",
    ahead="o", days=".-+x#", unicode=False,
)  # fmt: skip
"""For terminals without."""


def pen_for(encoding: str | None) -> Pen:
    """The pen for a terminal's encoding; ASCII where it is not UTF-8."""
    return BOX if (encoding or "").casefold().replace("-", "").replace("_", "") == "utf8" else ASCII
