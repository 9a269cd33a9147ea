"""The state panel: large figures for bar and count, and beside or below them what is played and what comes next."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Panel, RowBuilder, Zone
from trainer.screens.drawing.pen import BOX, Pen

# -- large figures -------------------------------------------------------------------------------------------------

WIDE, HIGH = 5, 6
"""Squares of a figure."""

_SHAPES = {
    "0": (" ### ", "#   #", "#   #", "#   #", "#   #", " ### "),
    "1": ("  #  ", " ##  ", "  #  ", "  #  ", "  #  ", " ### "),
    "2": (" ### ", "#   #", "   # ", "  #  ", " #   ", "#####"),
    "3": (" ### ", "#   #", "  ## ", "    #", "#   #", " ### "),
    "4": ("#  # ", "#  # ", "#  # ", "#####", "   # ", "   # "),
    "5": ("#####", "#    ", "#### ", "    #", "    #", "#### "),
    "6": (" ### ", "#    ", "#### ", "#   #", "#   #", " ### "),
    "7": ("#####", "    #", "   # ", "  #  ", "  #  ", "  #  "),
    "8": (" ### ", "#   #", " ### ", "#   #", "#   #", " ### "),
    "9": (" ### ", "#   #", " ####", "    #", "    #", " ### "),
    "-": ("     ", "     ", " ### ", "     ", "     ", "     "),
    ":": ("     ", "  #  ", "     ", "     ", "  #  ", "     "),
    " ": ("     ",) * 6,
}


def large(text: str, scale: int = 1, pen: Pen = BOX) -> tuple[str, ...]:
    """Draw a short text of digits in large figures, as lines of cells.

    Args:
        text: digits, "-", ":" and spaces; anything else is left empty.
        scale: 1 for three lines, 2 for six, 3 for nine.
        pen: the characters to draw with; without half cells lines are drawn from the upper squares of each cell.
    """
    shapes = [_SHAPES.get(char, _SHAPES[" "]) for char in text]
    squares = [(" " * scale).join(_wide(shape[row], scale) for shape in shapes) for row in range(HIGH)]
    squares = [row for row in squares for _ in range(scale)]
    if not pen.unicode:
        squares = [squares[n] for n in range(0, len(squares), 2)] if scale > 1 else _lines_of_three(text)
        return tuple(row.replace("#", pen.block) for row in squares)
    cells = {(" ", " "): " ", ("#", " "): pen.upper, (" ", "#"): pen.lower, ("#", "#"): pen.block}
    return tuple(
        "".join(cells[pair] for pair in zip(squares[n], squares[n + 1], strict=True)) for n in range(0, len(squares), 2)
    )


def size(text: str, scale: int = 1) -> tuple[int, int]:
    """The width and height of a text in cells."""
    return (len(text) * (WIDE + 1) - 1) * scale, HIGH * scale // 2


def _wide(row: str, scale: int) -> str:
    return "".join(square * scale for square in row)


_THREE = {
    "0": (" _ ", "| |", "|_|"), "1": ("   ", "  |", "  |"), "2": (" _ ", " _|", "|_ "), "3": (" _ ", " _|", " _|"),
    "4": ("   ", "|_|", "  |"), "5": (" _ ", "|_ ", " _|"), "6": (" _ ", "|_ ", "|_|"), "7": (" _ ", "  |", "  |"),
    "8": (" _ ", "|_|", "|_|"), "9": (" _ ", "|_|", " _|"), "-": ("   ", " _ ", "   "), ":": (" . ", "   ", " . "),
    " ": ("   ", "   ", "   "),
}  # fmt: skip
"""Figures of three lines for terminals without half cells."""


def _lines_of_three(text: str) -> list[str]:
    return [" ".join(f" {_THREE.get(char, _THREE[' '])[row]} " for char in text) for row in range(3)]


# -- the panel -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PanelWord:
    """Some text of one ink; a click on it carries out an action."""

    text: str
    ink: str = ink.PLAIN
    call: str = ""
    """A Textual action; empty for none."""


Words = tuple[PanelWord, ...]


@dataclass(frozen=True, slots=True)
class PanelFacts:
    """What the panel shows."""

    bar: str
    """The bar's number in its riff, or what is counted in: "-2" two bars before the start."""
    count: str
    facts: tuple[Words, ...]
    """Groups of words that stay together, the most important first."""
    parts: tuple[Words, ...] = field(default=())
    """One group for each part, the click and the guide."""
    said: Words = ()
    """The last sentence for the player."""
    short_parts: tuple[Words, ...] = ()
    """The parts in fewer words, for where `parts` does not fit on one line."""


GAP = 3
"""Cells between two groups on one line."""
BESIDE = 3
"""Cells between the figures and what stands beside them."""
LABELS = 10
"""Cells for labels that stand one below the other."""


def draw_panel(facts: PanelFacts, width: int, height: int, pen: Pen = BOX, usual: int = 0) -> Panel:
    """Draw the panel: figures at the left if it is wide, on top if it is narrow and high.

    Args:
        facts: what to say.
        width: cells of a line.
        height: lines.
        pen: the characters.
        usual: lines that it mostly has, which set where the figures stand, counted from below; 0 for `height`.
    """
    if _is_stacked(width, height):
        return _stacked(facts, width, height, pen)
    return _beside(facts, width, height, pen, min(usual or height, height))


def _figures(facts: PanelFacts, scale: int, pen: Pen) -> list[tuple[str, str]]:
    """Lines of two pieces: the bar's figures, and the count's."""
    bar, count = large(facts.bar, scale, pen), large(facts.count, scale, pen)
    return list(zip(bar, count, strict=True))


def _figure_width(facts: PanelFacts, scale: int) -> int:
    """Cells for two figures each, so that nothing moves when numbers grow."""
    widest = max(2, len(facts.bar)) + max(1, len(facts.count))
    return size("0" * widest, scale)[0] + 4 * scale


def lacking(facts: PanelFacts, width: int, usual: int) -> int:
    """How many more lines than usual the panel would need for all of the last sentence."""
    if _is_stacked(width, usual):
        return 0
    room = max(1, usual - len(_parts(facts, width, usual)[0]) - 1)
    return max(0, len(_folded(facts.said, width - _left(facts, width, usual) - 1)) - room)


def _is_stacked(width: int, height: int) -> bool:
    return height > width // 4 and height >= 12


def _beside(facts: PanelFacts, width: int, height: int, pen: Pen, usual: int) -> Panel:
    """Draw figures at the left, facts and the last sentence beside them, and the parts on the last line.

    With too few lines for figures they are a fact of their own.
    """
    left = _left(facts, width, usual)
    sheet = _Sheet(width, height)
    if left > 1:
        _put_figures(sheet.builders[height - usual :], facts, _scale(facts, width, usual), left - BESIDE, pen)
    parts, gap = _parts(facts, width, usual)
    for number, line in enumerate(parts):
        sheet.put(height - len(parts) + number, 1, line, gap)
    above = height - len(parts)
    said = _cut(_folded(facts.said, width - left - 1), max(1, above - 1), width - left - 1)
    told = facts.facts if usual > HIGH // 2 else (_now(facts), *facts.facts)
    for number, line in enumerate(_flow(told, width - left - 1, GAP)[: above - len(said)]):
        sheet.put(number, left, line)
    for number, text in enumerate(said):
        sheet.put(above - len(said) + number, left, [text])
    return sheet.panel()


def _now(facts: PanelFacts) -> Words:
    """The bar and the count in words."""
    return (PanelWord("bar ", ink.LABEL), PanelWord(f"{facts.bar:>2}, count {facts.count:>2}", ink.STRONG))


def _scale(facts: PanelFacts, width: int, height: int) -> int:
    """How large the figures are that stand beside the facts."""
    scales = (scale for scale in (3, 2) if _figure_width(facts, scale) <= 2 * width // 5)
    return next((scale for scale in scales if size("0", scale)[1] < height), 1)


def _left(facts: PanelFacts, width: int, height: int) -> int:
    """Where the facts begin; 1 where there is no room for figures beside them."""
    scale = _scale(facts, width, height)
    figure_width, figure_height = _figure_width(facts, scale), size("0", scale)[1]
    return figure_width + BESIDE if figure_height < height and figure_width + 40 <= width else 1


def _parts(facts: PanelFacts, width: int, height: int) -> tuple[list[list[Words]], int]:
    """The lines of the parts, and the cells between two; with two lines in all, a sentence stands in their place."""
    if height < 3 and facts.said and facts.said[0].text:
        return [], GAP
    ways = ((facts.parts, GAP), (facts.parts, GAP - 1), (facts.short_parts or facts.parts, GAP - 1))
    groups, gap = next((way for way in ways if len(_flow(way[0], width - 2, way[1])) <= 1), (ways[-1][0], 1))
    return _flow(groups, width - 2, gap)[: max(1, height - 3)], gap


def _stacked(facts: PanelFacts, width: int, height: int, pen: Pen) -> Panel:
    """Draw figures on top, then one fact on each line, the parts, and the last sentence."""
    sheet = _Sheet(width, height)
    scale = next((s for s in (3, 2, 1) if _figure_width(facts, s) <= width and size("0", s)[1] <= height // 2), 1)
    _put_figures(sheet.builders, facts, scale, min(width, _figure_width(facts, scale)), pen)
    y = size("0", scale)[1] + 1
    for group in facts.facts:
        sheet.put(y, 1, [_labelled(group)])
        y += 1
    y += 1
    for group in facts.parts:
        sheet.put(y, 1, [group])
        y += 1
    for number, text in enumerate(_cut(_folded(facts.said, width - 2), max(1, height - y - 1), width - 2)):
        sheet.put(y + 1 + number, 1, [text])
    return sheet.panel()


def _labelled(group: Words) -> Words:
    """A group whose label, where it has one, takes a column of its own."""
    if group and group[0].ink == ink.LABEL:
        first = group[0]
        return (PanelWord(f"{first.text.strip():<{LABELS}}", first.ink, first.call), *group[1:])
    return group


def _folded(words: Words, width: int) -> list[Words]:
    """Wrap plain words into lines of a width."""
    lines: list[str] = [""]
    for word in " ".join(word.text for word in words).split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return [(PanelWord(line, words[0].ink if words else ink.PLAIN),) for line in lines if line]


def _cut(lines: list[Words], most: int, width: int) -> list[Words]:
    """At most so many lines; where some are left out, the last one says so."""
    if len(lines) <= most:
        return lines
    (last,) = lines[most - 1]
    return [*lines[: most - 1], (PanelWord(f"{last.text[: width - 2]} …", last.ink),)]


class _Sheet:
    """Lines in the making, with what can be clicked."""

    def __init__(self, width: int, height: int) -> None:
        self.builders = [RowBuilder(width) for _ in range(height)]
        self._zones: list[Zone] = []

    def put(self, y: int, x: int, groups: Sequence[Words], gap: int = GAP) -> None:
        """Write groups of words on a line; what does not fit is cut off, lines that are not there are left out."""
        if not 0 <= y < len(self.builders):
            return
        for group in groups:
            for word in group:
                begin = x
                x = self.builders[y].put(x, word.text, word.ink)
                if word.call:
                    self._zones.append(Zone(y, begin, x, word.call))
            x += gap

    def panel(self) -> Panel:
        """What was drawn."""
        return Panel(tuple(builder.row() for builder in self.builders), tuple(self._zones))


def _put_figures(builders: Sequence[RowBuilder], facts: PanelFacts, scale: int, width: int, pen: Pen) -> None:
    count_width = size(facts.count or "0", scale)[0]
    bar_width = size(facts.bar or "0", scale)[0]
    for builder, (bar, count) in zip(builders, _figures(facts, scale, pen), strict=False):
        x = max(1, width - count_width - 2 * scale - bar_width - 1)
        builder.put(x, bar, ink.COUNT)
        builder.put(width - count_width, count, ink.STRONG)


def _flow(groups: Sequence[Words], width: int, gap: int) -> list[list[Words]]:
    """Groups on lines of a width, in their order."""
    lines: list[list[Words]] = []
    used = 0
    for group in groups:
        wide = sum(len(word.text) for word in group)
        if not lines or used + gap + wide > width:
            lines.append([])
            used = -gap
        lines[-1].append(group)
        used += gap + wide
    return lines
