"""Bar and count in figures large enough to be read from two metres, of half cells or, without UTF-8, whole ones.

A figure is five squares wide and six high; a cell is about as high as two squares, so one figure takes five by three
cells, and twice or three times that where there is room.
"""

from trainer.screens.drawing.pen import BOX, Pen

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
    """Lines of cells that draw a short text of digits.

    Args:
        text: digits, "-", ":" and spaces; anything else is left empty.
        scale: 1 for three lines, 2 for six, 3 for nine.
        pen: the characters to draw with; without half cells lines are drawn from the upper squares of each cell.
    """
    shapes = [_SHAPES.get(char, _SHAPES[" "]) for char in text]
    squares = [(" " * scale).join(_wide(shape[row], scale) for shape in shapes) for row in range(HIGH)]
    squares = [row for row in squares for _ in range(scale)]
    if pen.upper == pen.block:
        squares = [squares[n] for n in range(0, len(squares), 2)] if scale > 1 else _lines_of_three(text)
        return tuple(row.replace("#", pen.block) for row in squares)
    cells = {(" ", " "): " ", ("#", " "): pen.upper, (" ", "#"): pen.lower, ("#", "#"): pen.block}
    return tuple(
        "".join(cells[pair] for pair in zip(squares[n], squares[n + 1], strict=True)) for n in range(0, len(squares), 2)
    )


def size(text: str, scale: int = 1) -> tuple[int, int]:
    """Cells that a text takes: width and height."""
    return (len(text) * (WIDE + 1) - 1) * scale, HIGH * scale // 2


def largest(text: str, width: int, height: int) -> int:
    """The largest scale, up to 4, at which a text fits; 0 where it does not fit at all."""
    return max(
        (scale for scale in range(1, 5) if size(text, scale)[0] <= width and size(text, scale)[1] <= height), default=0
    )


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
