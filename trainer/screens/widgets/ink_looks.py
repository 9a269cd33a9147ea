"""How every ink looks in a theme, worked out from the theme's table: far quicker than a style sheet's rule for each."""

from functools import cache
from typing import NamedTuple

from rich.style import Style
from textual.color import Color

from trainer.screens.themes import PALETTES, STYLES, THEME_NAMES


class Look(NamedTuple):
    """An ink's colour, its ground and its weight, by the names that the themes use."""

    colour: str
    weight: str = ""
    """A key of `themes.STYLES`, or a weight as it is."""
    ground: str = "ground"


LOOKS = {
    "plain": Look("ink"), "line": Look("line"), "bar": Look("bar"), "count": Look("ink", "count"),
    "fine": Look("quiet"), "mark": Look("mark"), "label": Look("quiet"), "interval": Look("interval", "strong"),
    "chord": Look("ink", "italic"), "quiet": Look("quiet"), "strong": Look("strong", "strong"),
    "heading": Look("strong", "strong"), "playhead": Look("head-ink", "playhead", "head-ground"),
    "cursor": Look("strong", "chosen", "raised"),
    **{f"part-{letter}": Look(f"part-{letter}", "part") for letter in "abcdefgh"},
}  # fmt: skip
"""By the names of `rows.INK_CLASSES`, and two for what lies over them: the playhead, and a list's cursor."""


@cache
def ink_look(theme: str, name: str) -> Style:
    """The style of an ink in a theme; a theme that is not ours looks like the first of ours."""
    theme = theme if theme in THEME_NAMES else THEME_NAMES[0]
    look, palette = LOOKS[name], PALETTES[theme]
    weight = STYLES[theme].get(look.weight, look.weight)
    colours = Style(
        color=Color.parse(palette[look.colour]).rich_color, bgcolor=Color.parse(palette[look.ground]).rich_color
    )
    return colours + Style.parse(weight) if weight and weight != "none" else colours
