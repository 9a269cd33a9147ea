"""The reference of the exercise file: its examples are read, and every mark, key and row occurs in one."""

import re

import pytest
from markdown_it import MarkdownIt

from tests.exercises.bundled import REFERENCE
from tests.exercises.features import possible, said
from trainer.arranging.chord_name import QUALITIES
from trainer.arranging.realise import realise_exercise
from trainer.music.exercise import Exercise
from trainer.music.instrument import HARMONICS, MAX_FRETS, MAX_STRINGS
from trainer.music.interval import NUMBER_NAMES, QUALITY_NAMES
from trainer.music.key import MODES
from trainer.music.note import KIT
from trainer.music.problem import ProblemsError
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.notation.cell import CellError, read_cell
from trainer.notation.document import KINDS
from trainer.notation.files import MOST_BYTES
from trainer.notation.front import MOST_TIMES
from trainer.notation.read import MOST_FORM_BARS, read
from trainer.notation.system import MOST_REPEATS, ORDER
from trainer.notation.tab import MOST_BARS
from trainer.notation.tidy import tidy
from trainer.notation.write import write

TEXT = REFERENCE.read_text(encoding="utf-8")
FRONT = '+++\ntitle = "Example"\ntempo = 100\n+++\n\n'


def examples() -> list[str]:
    """Whole files, and the blocks of a passage put into one: a new one begins where a part or a riff block recurs."""
    found: list[str] = []
    blocks: dict[str, str] = {}

    def finish() -> None:
        if any(info.startswith("tab") for info in blocks):
            found.append(FRONT + "## Example\n\n" + "\n".join(f"```{i}\n{text}```\n" for i, text in blocks.items()))
        blocks.clear()

    for token in MarkdownIt("commonmark").parse(TEXT):
        info = " ".join(token.info.split())
        if token.type == "heading_open":
            finish()
        elif token.type == "fence" and info == "markdown":
            found.append(token.content)
        elif token.type == "fence" and info.split(" ")[0] in KINDS:
            if info in blocks or info == "riff":
                finish()
            blocks[info] = token.content
    finish()
    return found


EXAMPLES = examples()


def exercise(text: str) -> Exercise:
    return realise_exercise(read(text))


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 12


@pytest.mark.parametrize("text", EXAMPLES, ids=range(len(EXAMPLES)))
def test_examples_are_read_and_computed_and_come_back_as_they_are(text: str) -> None:
    assert exercise(text).riffs
    assert read(write(read(text))) == read(text)


@pytest.mark.parametrize("text", EXAMPLES, ids=range(len(EXAMPLES)))
def test_examples_are_tidy_except_the_one_about_filler(text: str) -> None:
    assert tidy(text) == text or "---" in text


def test_every_key_row_and_mark_occurs_in_an_example() -> None:
    assert possible() - set().union(*(said(text) for text in EXAMPLES)) == set()


def test_a_lacking_mark_would_be_noticed() -> None:
    without = [text for text in EXAMPLES if "finger" not in text]
    lacking = possible() - set().union(*(said(text) for text in without))
    assert {"row finger", "finger T"} <= lacking


@pytest.mark.parametrize(
    "words",
    [
        [f"`{mode}`" for mode in MODES],
        [f"`{number}`" for number in NUMBER_NAMES],
        [f"`{quality}`" for quality in QUALITY_NAMES.values()],
        [f"`{piece}`" for piece in KIT if not piece.startswith("tom")] + ["`tom 1` to `tom 4`"],
        [f"`{row}`" for row in ORDER if row not in KIT and not row.isdigit()],
        [f"`{quality}`" for quality in QUALITIES if quality],
        [f"{bars:,} bars in a riff" for bars in [MOST_BARS]] + [f"{MOST_FORM_BARS:,} in a form"],
        [f"{MOST_BYTES >> 20} MiB", f"`x{MOST_REPEATS}`", f"`x{MOST_TIMES}`"],
        [f"{MAX_STRINGS} strings", f"{MAX_FRETS} frets", f"between {SLOWEST_BPM} and {FASTEST_BPM}"],
    ],
    ids=["modes", "interval sizes", "interval qualities", "kit", "rows", "chords", "bars", "sizes", "necks"],
)
def test_tables_are_told_whole(words: list[str]) -> None:
    told = " ".join(TEXT.split())
    assert [word for word in words if word not in told] == []


def test_harmonics_are_told_as_they_are() -> None:
    found = re.search(r"natural harmonic; possible over frets ([\d, ]+)", TEXT)
    assert found
    assert [int(number) for number in found[1].split(",")] == list(HARMONICS)


def test_cells_of_the_table_of_cells_are_cells() -> None:
    table = TEXT.split("### Strings")[1].split("### The kit")[0]
    cells = [cell for row in re.findall(r"^\| (`[^|]+`) \|", table, re.M) for cell in re.findall(r"`([^`]+)`", row)]
    assert len(cells) >= 12
    for cell in cells:
        if cell != "r":
            read_cell(cell, 1, 24)
    with pytest.raises(CellError, match="is not a note"):
        read_cell("5h7", 1, 24)


def test_messages_of_the_table_are_those_that_are_told() -> None:
    """Each message in the table is the beginning of one that reading really gives, on a file that has the mistake."""
    told = re.findall(r"^\| `(.+?)` \|", TEXT.split("What is told most often")[1].split("## Your own")[0], re.M)
    assert len(told) >= 10
    heard = "\n".join(_problems(text) for text in BROKEN)
    assert [message for message in told if message not in heard] == []


def _file(*blocks: str, front: str = FRONT) -> str:
    return front + "## Example\n\n" + "\n".join(blocks)


def _tab(part: str, *rows: str) -> str:
    return "```tab " + part + "\n" + "\n".join(rows) + "\n```\n"


FOUR = "count | 1 2 3 4 |"
BROKEN = [
    _file(_tab("guitar 1", FOUR, "6     |5        |")),
    _file(_tab("guitar 1", "count | 1 & 2 3 4 |", "6     |  10       |")),
    _file(_tab("guitar 1", "count | 1   2 3 4 |", "6     | 5 7       |")),
    _file(_tab("guitar 1", "count | 1 2 3 |", "6     | 0     |")),
    _file(_tab("guitar 1", "count | 1 2 3 4 5 |", "6     | 0         |")),
    _file(_tab("guitar 1", "count | 1 2 3 4 | % | % |", "6     | 0       |   |")),
    _file(
        _tab("guitar 1", "count | 1 2 3 4 | % | % | % |", "6     | 0       |   |   |   |"),
        _tab("guitar 2", "count | 1 2 3 4 | % | % |", "6     | 0       |   |   |"),
    ),
    _file(_tab("guitar 1", "6     | 0 0 0 0 |")),
    _file(_tab("guitar 1", "count | 1   2 3 4 |", "6     | 5h7       |")),
    _file(_tab("guitar 1", "count | 1 2  3 4 |", "6     | 7 h5     |")),
    _file(_tab("guitar 1", "count  | 1 2 3 4 |", "6      | 7       |", "accent |   >     |")),
    _file(_tab("guitar 1", "count | 1  2 3 4 |", "6     | 26       |")),
    _file(
        _tab("guitar 1", FOUR, "1     | 0       |"),
        '```harmony guitar 2\nfollows = "gitar 1"\ninterval = "third below"\n```\n',
    ),
    _file(_tab("guitar 1", FOUR, "6     | 0       |"), front='+++\ntittle = "Example"\n+++\n\n'),
]


def _problems(text: str) -> str:
    with pytest.raises(ProblemsError) as caught:
        read(text)
    return str(caught.value)
