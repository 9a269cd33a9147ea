"""Tidying an exercise file: columns line up, rows come in one order, and nothing else changes."""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence

from trainer.notation.document import Block, normal_lines, outline, with_lines_of
from trainer.notation.layout import GridBar, Range, draw_system
from trainer.notation.ranges import ROWS as RANGE_ROWS
from trainer.notation.ranges import read_spans
from trainer.notation.read import read
from trainer.notation.report import Report
from trainer.notation.system import COUNT, SIMILE, read_systems
from trainer.notation.tab import ranges_going

_FILLER = " -"


def tidy(text: str, file: str = "exercise.md") -> str:
    """The text with every tab lined up. Prose, front matter and other blocks stay as they are.

    Args:
        text: the file's text.
        file: the name under which problems are told.

    Raises:
        ProblemsError: for a file that cannot be read: what cannot be understood is not moved about.
    """
    exercise = read(text, file)
    plain = normal_lines(text)
    lines = plain.split("\n")
    for section in reversed(outline(plain, Report(file)).sections):
        for block in reversed(section.blocks):
            if block.kind == "tab":
                lines[block.line : block.line + block.content.count("\n")] = _tidy_block(block, file)
    tidied = "\n".join(line.rstrip() if line.isspace() else line for line in lines).rstrip("\n") + "\n"
    if tidied != plain and read(tidied, file) != exercise:
        raise RuntimeError("tidying would have changed the music")
    return with_lines_of(tidied, text)


def _tidy_block(block: Block, file: str) -> list[str]:
    drawn: list[str] = []
    going: frozenset[str] = frozenset()
    for system in read_systems(block.content, block.line + 1, block.indent, Report(file)):
        drawn += [""] if drawn else []
        bars = []
        for index in range(len(system.counts.bars)):
            texts = {label: row.bars[index][1] for label, row in system.rows.items()}
            bars.append(_grid(texts, going))
            going = ranges_going(texts, going)
        rows = [label for label in system.rows if label != COUNT]
        drawn += [" " * block.indent + line for line in draw_system(bars, rows, system.times)]
    return drawn


def _grid(texts: Mapping[str, str], carried: frozenset[str]) -> GridBar:
    stripped = {text.strip(_FILLER) for label, text in texts.items() if label != "meter"}
    if SIMILE in stripped and stripped <= {"", SIMILE}:
        return GridBar((), {})
    counts, begins = _columns(texts[COUNT])
    cells: dict[str, dict[int, str]] = {}
    ranges: dict[str, tuple[Range, ...]] = {}
    for label, text in texts.items():
        if label == COUNT:
            continue
        if label in RANGE_ROWS:
            cells[label], ranges[label] = _marks(text, begins, label in carried)
            continue
        words = _words(text, split_hyphens=label not in ("chord", "tempo"))
        cells[label] = {max(bisect_right(begins, begin) - 1, 0): word for begin, word in words}
    return GridBar(counts, cells, ranges)


def _marks(text: str, begins: Sequence[int], carried: bool) -> tuple[dict[int, str], tuple[Range, ...]]:
    """The marks of a mute or ring row: those of one column, and those that hold over several."""
    single: dict[int, str] = {}
    ranges = []
    for span in read_spans(text, carried)[0]:
        first = max(bisect_right(begins, span.begin) - 1, 0)
        if span.ranged:
            ranges.append(Range(first, max(bisect_left(begins, span.end) - 1, first), span.word))
        else:
            single[first] = span.word
    return single, tuple(ranges)


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
