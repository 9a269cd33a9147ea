"""Nothing that a player wrote is lost in silence: it is read, or told with its place."""

import re
import time
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.musical import exercises
from trainer.music.exercise import Exercise
from trainer.music.note import KIT
from trainer.music.part import DrumPart, HarmonyPart, TabPart
from trainer.music.problem import ProblemsError
from trainer.notation.document import normal_lines, outline
from trainer.notation.edit import put_block
from trainer.notation.read import read
from trainer.notation.report import Report
from trainer.notation.system import SIMILE, read_systems
from trainer.notation.tidy import tidy
from trainer.notation.write import write

FRONT = '+++\ntitle = "Small Hours"\n+++\n\n## Riff\n\n'


def tab(*rows: str, part: str = "guitar 1") -> str:
    return FRONT + f"```tab {part}\n" + "\n".join(rows) + "\n```\n"


def told(text: str) -> str:
    with pytest.raises(ProblemsError) as caught:
        read(text, "a.md")
    return str(caught.value)


def part_of(text: str) -> TabPart:
    part = read(text).riffs[0].parts[0]
    assert isinstance(part, TabPart)
    return part


@pytest.mark.parametrize(
    ("rows", "place"),
    [
        (("count | 1   2 3 4 |", "5     | 3 5 7   r |"), "9:11"),
        (("count | 1 & 2 & 3 & 4   |", "5     | 3 5 7 8 9 8 7 5 |"), "9:23"),
        (("count | 1 & 2 3 4 |", "5     | 3 5 7 8 9 0 |"), "9:19"),
        (("count  | 1   2 3 4 |", "5      | 3   7 7   |", "accent | > ^       |"), "10:12"),
        (("count | 1   2 3 4 |", "5     | 3   7 7   |", "pick  | d u       |"), "10:11"),
        (("count | 1   2 3 4 |", "5     | 3   7 7   |", "chord | E A       |"), "10:11"),
        (("count | 1   2 3 4 |", "5     | 3   7 7   |", "tempo | 90 >100   |"), "10:12"),
        (("count | 1   2 3 4 |", "5     | 3   7 7   |", "mute  | = =       |"), "10:11"),
        (("count | 1   2 3 4 |", "snare | x x       |"), "9:11"),
    ],
)
def test_a_second_cell_under_one_count_is_told_at_its_place(rows: tuple[str, ...], place: str) -> None:
    assert f"a.md:{place}: " in told(tab(*rows))
    assert "is the second cell under one count" in told(tab(*rows))
    with pytest.raises(ProblemsError):
        tidy(tab(*rows))


def test_a_count_row_that_lacks_its_last_mark_is_told_once_not_for_every_row() -> None:
    rows = ["count | 1 e & a 2 e & a 3 e & a 4 e &   |", *(f"{row:<6}| {' '.join('0' * 16)} |" for row in (5, 6))]
    assert told(tab(*rows, f"pick  | {' '.join('du' * 8)} |")).count("\n") == 0


def test_a_cell_may_run_on_over_counts_where_nothing_stands() -> None:
    text = tab("count | 1 2 3 & 4 & |", "5     | 12b14 7   9 |")
    assert [note.fret for bar in part_of(text).bars for moment in bar for note in moment.notes] == [12, 7, 9]
    assert "count | 1     2 3 & 4 & |\n5     | 12b14     7   9 |" in tidy(text)


@pytest.mark.parametrize("row", ["5     |  10         |", "5     | h12 5       |"])
def test_a_cell_that_could_belong_to_two_counts_is_told(row: str) -> None:
    assert "runs over two counts (1 and &)" in told(tab("count | 1 &   2 3 4 |", row))


def test_a_block_that_is_not_closed_is_told_and_not_tidied() -> None:
    text = tab("count | 1 2 3 4 |", "5     |  3 5 7 r |").removesuffix("\n```\n")
    assert told(text) == "a.md:7:1: this block (tab guitar 1) is not closed before the file ends. " + (
        "Write a line ``` after its last row."
    )
    with pytest.raises(ProblemsError):
        tidy(text)


def test_a_block_that_swallows_the_next_is_told() -> None:
    text = tab("count | 1 2 3 4 |", "5     | 3 5 7 r |", "", "```tab bass", "count | 1 2 3 4 |", "4     | 3 5 7 r |")
    assert "a.md:11:1: a new block or heading begins before the block of line 7 is closed" in told(text)


@pytest.mark.parametrize(
    ("row", "marked"),
    [
        ("mute  | PM-------       |", 5),
        ("mute  | P.M. - - -      |", 5),
        ("mute  | =-------        |", 1),
        ("mute  | PM              |", 1),
        ("ring  | let ring---     |", 6),
        ("ring  | Let Ring------- |", 8),
    ],
)
def test_dashes_after_a_word_reach_as_far_as_they_stand(row: str, marked: int) -> None:
    text = tab("count | 1 & 2 & 3 & 4 & |", "5     | 3 5 7 8 9 8 7 5 |", row)
    moments = part_of(text).bars[0]
    assert [moment.mute or moment.ring for moment in moments] == [i < marked for i in range(8)]
    assert read(tidy(text)) == read(text)
    assert row.split("|")[1].split("-", maxsplit=1)[0].strip() in tidy(text)


def test_a_range_goes_on_over_bar_lines_and_ends_where_its_dashes_do() -> None:
    text = tab(
        "count | 1 & 2 & 3 & 4 & | 1 & 2 & 3 & 4 & |",
        "5     | 3 5 7 8 9 8 7 5 | 3 5 7 8 9 8 7 5 |",
        "mute  |         PM----- | ----            |",
    )
    first, second = part_of(text).bars
    assert [moment.mute for moment in first] == [False] * 4 + [True] * 4
    assert [moment.mute for moment in second] == [True] * 2 + [False] * 6
    assert read(tidy(text)) == read(text)
    assert tidy(tidy(text)) == tidy(text)


def test_a_tab_character_is_refused_with_its_place() -> None:
    assert "a.md:9:8: a tab character in a row" in told(tab("count | 1 2 3 4 |", "5     |\t3 5 7 r |"))


@pytest.mark.parametrize("cell", ["00", "07", "<012>", "5b07", "t00"])
def test_a_fret_has_no_leading_zero(cell: str) -> None:
    assert f'"{cell}" is not a note' in told(tab("count | 1     2 3 4 |", f"5     | {cell} |"))


def test_a_tab_outside_a_block_and_a_block_without_its_word_are_told() -> None:
    rows = "count | 1 2 3 4 |\n5     | 3 5 7 r |\n"
    assert "a.md:7:1: a row of a tab stands outside a block" in told(FRONT + rows)
    assert "a.md:7:1: this block of tab does not say that it is one" in told(FRONT + f"```guitar 1\n{rows}```\n")


@pytest.mark.parametrize("ends", ["\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_byte_order_mark_are_kept(ends: str, mark: str) -> None:
    text = mark + tab("count | 1 2 3 4 |", "5     | 3  5 7  r  |").replace("\n", ends)
    assert tidy(text) == mark + tidy(normal_lines(text)).replace("\n", ends)
    put = put_block(text, "Riff", "tab", "bass", ["count | 1 2 3 4 |", "4     | 0 0 0 0 |"])
    assert put.startswith(mark) and put.count(ends) == put.count(ends[-1]) and "tab bass" in put


@pytest.mark.parametrize("meter", ["4/000199999999", "00004/4", "4/", "/4", "٤/4", "33/4", "4/3", "4/04x"])
def test_a_meter_that_is_none_is_told(meter: str) -> None:
    assert "is not known" in told(
        tab("count | 1 2 3 4 |", "5     | 3 5 7 r |").replace("+++\n\n", f'meter = "{meter}"\n+++\n\n', 1)
    )


@pytest.mark.parametrize("tail", ["x0", "x65", "x0000000030000000", "x" + "9" * 5000, "3x"])
def test_a_number_of_repeats_that_is_none_is_told(tail: str) -> None:
    assert "a.md:8:" in told(tab(f"count | 1 2 3 4 | {tail}", "5     | 3 5 7 r |"))


# ---- The property: whatever a text passes, every note in it is in the exercise.


def tokens_of(text: str) -> int:
    """Notes, hits and rests as they stand in the rows of a file, similes and repeats written out."""
    found = 0
    for section in outline(normal_lines(text), Report("a.md")).sections:
        for block in section.blocks:
            before = 0
            for system in read_systems(block.content, 0, 0, Report("a.md")) if block.kind == "tab" else ():
                bars = []
                for index in range(len(system.counts.bars)):
                    texts = [
                        row.bars[index][1] for label, row in system.rows.items() if label.isdigit() or label in KIT
                    ]
                    if any(row.bars[index][1].strip(" -") == SIMILE for row in system.rows.values()):
                        bars.append(before)
                    else:
                        bars.append(sum(len(re.findall(r"[^\s-]+", text)) for text in texts))
                    before = bars[-1]
                found += sum(bars) * system.times
    return found


def notes_of(exercise: Exercise) -> int:
    """Notes, hits and rests of an exercise."""
    found = 0
    for part in (part for riff in exercise.riffs for part in riff.parts):
        if isinstance(part, TabPart):
            found += sum(len(moment.notes) + moment.rest for bar in part.bars for moment in bar)
        elif isinstance(part, DrumPart):
            found += sum(len(moment.hits) for bar in part.bars for moment in bar)
        else:
            assert isinstance(part, HarmonyPart)
    return found


slow = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@slow
@given(exercises(), st.randoms(use_true_random=False))
def test_no_text_that_is_read_loses_a_note(exercise: Exercise, chance) -> None:
    """Slips of the hand in a sound text: characters lost, doubled, moved; rows cut."""
    text = write(exercise)
    assert tokens_of(text) == notes_of(exercise)
    body = text.index("\n## ")
    for _ in range(12):
        lines = text[body:].split("\n")
        for _ in range(chance.randint(1, 3)):
            rows = [number for number, line in enumerate(lines) if "|" in line]
            number = chance.choice(rows)
            lines[number] = _slip(lines[number], chance)
        slipped = text[:body] + "\n".join(lines)
        before = time.process_time()
        try:
            found = read(slipped, "a.md")
        except ProblemsError as error:
            assert all(problem.line for problem in error.problems)
            continue
        finally:
            assert time.process_time() - before < 1
        assert tokens_of(slipped) == notes_of(found)
        assert read(tidy(slipped, "a.md"), "a.md") == found


def _slip(line: str, chance) -> str:
    at = chance.randint(line.index("|"), len(line) - 1)
    kind = chance.choice(["lose", "double", "space", "swap", "type"])
    if kind == "lose":
        return line[:at] + line[at + 1 :]
    if kind == "double":
        return line[:at] + line[at] + line[at:]
    if kind == "space":
        return line[:at] + " " + line[at:]
    if kind == "swap":
        return line[:at] + line[at : at + 2][::-1] + line[at + 2 :]
    return line[:at] + chance.choice("0123x-&ae>=r%~") + line[at + 1 :]


def test_the_count_of_the_tokens_can_fail() -> None:
    text = tab("count | 1 2 3 4 |", "5     | 3 5 7 r |")
    assert tokens_of(text) == 4
    assert notes_of(read(text)) == 4
    assert part_of(text).bars[0][-1].offset == Fraction(3, 4)
