"""The four themes: dark, light, high contrast, no colour. Each gives every ink a colour and a weight.

Text has a contrast of at least 4.5 to 1 on every ground it stands on, and lines 3 to 1 (WCAG 2.2); a test computes
it. Where there is no colour, weight, underlining and reversed cells carry what matters; letters tell the parts apart.
"""

from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from rich.style import Style
from textual.color import Color

if TYPE_CHECKING:
    from textual.theme import Theme

TEXT_CONTRAST, LINE_CONTRAST = 4.5, 3.0
"""WCAG 2.2, success criteria 1.4.3 and 1.4.11."""

NO_COLOUR = "no colour"

_COLOURED: dict[str, dict[str, str]] = {
    "dark": {
        "ground": "#14161a", "raised": "#1d2026", "ink": "#e8e4da", "line": "#6f7580", "bar": "#9aa0ab",
        "quiet": "#989fab", "mark": "#b9b3a5", "strong": "#fff8e6", "interval": "#d8c8a8",
        "head-ground": "#f1e7cf", "head-ink": "#14161a",
        "part-a": "#f3b562", "part-b": "#62d2c4", "part-c": "#bba6f7", "part-d": "#f295a5",
        "part-e": "#a7d37c", "part-f": "#83b8f6", "part-g": "#e3a3d9", "part-h": "#cfc5a9",
    },
    "light": {
        "ground": "#fbf9f4", "raised": "#efebe2", "ink": "#23252b", "line": "#85878d", "bar": "#5c5f66",
        "quiet": "#5f636c", "mark": "#54504a", "strong": "#000000", "interval": "#5a4a24",
        "head-ground": "#23252b", "head-ink": "#fbf9f4",
        "part-a": "#8a4f00", "part-b": "#00655c", "part-c": "#5a3eb2", "part-d": "#a8243d",
        "part-e": "#3d690f", "part-f": "#0c5296", "part-g": "#8c2a7d", "part-h": "#5d5433",
    },
    "high contrast": {
        "ground": "#000000", "raised": "#000000", "ink": "#ffffff", "line": "#b4b4b4", "bar": "#ffffff",
        "quiet": "#d6d6d6", "mark": "#ffffff", "strong": "#ffffff", "interval": "#ffffff",
        "head-ground": "#ffff00", "head-ink": "#000000",
        "part-a": "#ffd24d", "part-b": "#4df0e0", "part-c": "#d2bbff", "part-d": "#ffa6b6",
        "part-e": "#b8ff7a", "part-f": "#9fd0ff", "part-g": "#ffb0f4", "part-h": "#fff0b0",
    },
}  # fmt: skip
PALETTES = _COLOURED | {NO_COLOUR: dict.fromkeys(_COLOURED["dark"], "ansi_default")}
"""Colours by theme and use."""

STYLES: dict[str, dict[str, str]] = {
    "dark": {"strong": "bold", "part": "bold", "count": "none", "chosen": "bold", "playhead": "bold"},
    "light": {"strong": "bold", "part": "bold", "count": "none", "chosen": "bold", "playhead": "bold"},
    "high contrast": {
        "strong": "bold",
        "part": "bold",
        "count": "bold",
        "chosen": "bold underline",
        "playhead": "bold",
    },
    "no colour": {"strong": "bold", "part": "bold", "count": "none", "chosen": "reverse", "playhead": "bold reverse"},
}
"""Font weights by theme and use."""

THEME_NAMES = tuple(PALETTES)
"""The themes in the order in which the key goes through them."""


def theme_named(name: str) -> "Theme":
    """Make Textual's theme for one of `THEME_NAMES`."""
    from textual.theme import Theme

    colours = PALETTES[name]
    variables = {f"t-{key}": value for key, value in colours.items()}
    variables |= {f"t-{key}-style": value for key, value in STYLES[name].items()}
    plain = name == NO_COLOUR
    variables |= {
        "footer-key-foreground": colours["strong"],
        "input-selection-background": colours["head-ground"],
        "input-selection-foreground": colours["head-ink"],
        "block-cursor-foreground": colours["head-ink"],
        "block-cursor-background": colours["head-ground"],
        "block-cursor-text-style": STYLES[name]["playhead"],
        "input-cursor-background": colours["head-ground"],
        "input-cursor-foreground": colours["head-ink"],
        "input-cursor-text-style": "reverse" if plain else "none",
        "border": colours["bar"],
        "border-blurred": colours["line"],
    }
    if plain:
        variables |= {"ansi-background": "ansi_default", "ansi-foreground": "ansi_default"}
    return Theme(
        name=name,
        primary=colours["part-a"],
        secondary=colours["part-b"],
        warning=colours["part-a"],
        error=colours["part-d"],
        success=colours["part-e"],
        accent=colours["part-a"],
        foreground=colours["ink"],
        background=colours["ground"],
        surface=colours["ground"],
        panel=colours["raised"],
        boost=colours["raised"],
        dark=name != "light",
        variables=variables,
        ansi=plain,
    )


def contrast(one: str, other: str) -> float:
    """Compute the contrast of two colours "#rrggbb", from 1 to 21 (WCAG 2.2, relative luminance)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


# -- the looks of inks ---------------------------------------------------------------------------------------------


class InkLook(NamedTuple):
    """An ink's colour, weight and background, by the names that the themes use."""

    colour: str
    weight: str = ""
    """A key of `STYLES`, or a Textual style such as "italic"."""
    ground: str = "ground"


LOOKS = {
    "plain": InkLook("ink"), "line": InkLook("line"), "bar": InkLook("bar"), "count": InkLook("ink", "count"),
    "fine": InkLook("quiet"), "mark": InkLook("mark"), "label": InkLook("quiet"),
    "interval": InkLook("interval", "strong"),
    "chord": InkLook("ink", "italic"), "quiet": InkLook("quiet"), "strong": InkLook("strong", "strong"),
    "heading": InkLook("strong", "strong"), "playhead": InkLook("head-ink", "playhead", "head-ground"),
    "cursor": InkLook("strong", "chosen", "raised"),
    **{f"part-{letter}": InkLook(f"part-{letter}", "part") for letter in "abcdefgh"},
}  # fmt: skip
"""How each ink of `rows.INK_NAMES` looks, and two that lie over them: the playhead and a list's cursor."""


@cache
def ink_look(theme: str, name: str) -> Style:
    """The style of an ink in a theme; unknown themes look like the first one."""
    theme = theme if theme in THEME_NAMES else THEME_NAMES[0]
    look, palette = LOOKS[name], PALETTES[theme]
    weight = STYLES[theme].get(look.weight, look.weight)
    colours = Style(
        color=Color.parse(palette[look.colour]).rich_color, bgcolor=Color.parse(palette[look.ground]).rich_color
    )
    return colours + Style.parse(weight) if weight and weight != "none" else colours
