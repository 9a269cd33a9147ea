"""Tidying an exercise file: columns line up, rows come in one order, and nothing else changes."""

from bisect import bisect_right

from trainer.notation.document import Block, normal_lines, outline
from trainer.notation.layout import GridBar, draw_system
from trainer.notation.read import read
from trainer.notation.report import Report
from trainer.notation.system import COUNT, SIMILE, System, read_systems

_FILLER = " -"


def tidy(text: str, file: str = "exercise.md") -> str:
    """The text with every tab lined up. Prose, front matter and other blocks stay as they are.

    Args:
        text: the file's text.
        file: the name under which problems are told.

    Raises:
        ProblemsError: for a file that cannot be read: what cannot be understood is not moved about.
    """
    read(text, file)
    text = normal_lines(text)
    lines = text.split("\n")
    for section in reversed(outline(text, Report(file)).sections):
        for block in reversed(section.blocks):
            if block.kind == "tab":
                lines[block.line : block.line + block.content.count("\n")] = _tidy_block(block, file)
    return "\n".join(line.rstrip() if line.isspace() else line for line in lines).rstrip("\n") + "\n"


def _tidy_block(block: Block, file: str) -> list[str]:
    drawn: list[str] = []
    for system in read_systems(block.content, block.line + 1, block.indent, Report(file)):
        drawn += [""] if drawn else []
        bars = [_grid(system, i) for i in range(len(system.counts.bars))]
        rows = [label for label in system.rows if label != COUNT]
        drawn += [" " * block.indent + line for line in draw_system(bars, rows, system.times)]
    return drawn


def _grid(system: System, index: int) -> GridBar:
    texts = {label: row.bars[index][1] for label, row in system.rows.items()}
    stripped = {text.strip(_FILLER) for label, text in texts.items() if label != "meter"}
    if SIMILE in stripped and stripped <= {"", SIMILE}:
        return GridBar((), {})
    counts, begins = _columns(texts[COUNT])
    cells: dict[str, dict[int, str]] = {}
    for label, text in texts.items():
        if label == COUNT:
            continue
        words = _words(text, split_hyphens=label not in ("chord", "tempo"))
        cells[label] = {max(bisect_right(begins, begin) - 1, 0): word for begin, word in words}
    return GridBar(counts, cells)


def _columns(text: str) -> tuple[tuple[str, ...], list[int]]:
    words = _words(text, split_hyphens=True)
    return tuple(word for _, word in words), [begin for begin, _ in words]


def _words(text: str, split_hyphens: bool) -> list[tuple[int, str]]:
    """Words of a bar's text with the character each begins at."""
    words, begin = [], None
    filler = _FILLER if split_hyphens else " "
    for at, char in enumerate(text + " "):
        if char in filler or char.isspace():
            if begin is not None:
                words.append((begin, text[begin:at]))
            begin = None
        elif begin is None:
            begin = at
    return [(begin, word) for begin, word in words if word.strip("-")]
