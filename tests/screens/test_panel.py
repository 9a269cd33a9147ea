"""The state panel says what is played and what comes next, in any window."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.screens.drawing import ink
from trainer.screens.drawing.panel import PanelFacts, PanelWord, draw_panel, lacking
from trainer.screens.drawing.pen import ASCII

FACTS = PanelFacts(
    "3",
    "4",
    (
        (PanelWord("96", ink.STRONG, "ask_tempo"), PanelWord(" → 168 bpm")),
        (PanelWord("rung ", ink.LABEL), PanelWord("3 of 16")),
        (PanelWord("bars ", ink.LABEL, "ask_bars"), PanelWord("1-4 of 8")),
    ),
    tuple((PanelWord(f"{letter} ", letter, f"choose({n})"), PanelWord(name)) for n, (letter, name) in enumerate(
        [("A", "guitar 1"), ("B", "guitar 2"), ("C", "bass"), ("D", "drums")])),
    (PanelWord("Clean. Next: 100 bpm."),),
)  # fmt: skip


@pytest.mark.parametrize(("width", "height"), [(80, 4), (120, 7), (52, 26), (40, 4)])
def test_everything_is_said_at_every_size(width: int, height: int) -> None:
    text = " ".join("\n".join(row.text for row in draw_panel(FACTS, width, height).rows).split())
    for said in ("96 → 168 bpm", "A guitar 1", "Clean. Next: 100 bpm."):
        assert said in text


@given(st.integers(1, 220), st.integers(1, 30))
def test_no_line_is_wider_than_the_window(width: int, height: int) -> None:
    panel = draw_panel(FACTS, width, height)
    assert len(panel.rows) == height
    assert {len(row.chars) for row in panel.rows} == {width}


def test_words_can_be_clicked_where_they_stand() -> None:
    panel = draw_panel(FACTS, 80, 4)
    y, x = next((y, row.text.index("96")) for y, row in enumerate(panel.rows) if "96" in row.text)
    assert panel.call_at(x, y) == "ask_tempo"
    assert panel.call_at(0, 0) == ""


def test_figures_do_not_move_when_the_bar_gets_a_second_digit() -> None:
    one, two = (draw_panel(replace(FACTS, bar=bar), 120, 7) for bar in ("9", "10"))
    assert one.rows[0].text.index("96") == two.rows[0].text.index("96")


def test_without_utf8_the_figures_are_ascii() -> None:
    facts = replace(FACTS, facts=())
    assert "".join(row.text for row in draw_panel(facts, 120, 7, ASCII).rows).isascii()


def test_the_click_stays_in_sight_where_the_parts_need_more_than_a_line() -> None:
    long = tuple((PanelWord(f" {letter} a long name {number}", ink.PLAIN),) for number, letter in enumerate("ABCD"))
    short = tuple((PanelWord(f" {letter}", ink.PLAIN),) for letter in "ABCD")
    click = (PanelWord(" click quarters", ink.PLAIN),)
    facts = replace(FACTS, parts=(*long, click), short_parts=(*short, click))
    last = draw_panel(facts, 80, 4).rows[-1].text
    assert "click quarters" in last and " D " in last
    assert "a long name 3" in draw_panel(facts, 140, 4).rows[-1].text


LONG = replace(FACTS, said=(PanelWord(" ".join(["A sentence that goes on and on."] * 7)),))


def test_what_is_cut_off_says_so_and_how_many_lines_it_lacks() -> None:
    more = lacking(LONG, 80, 4)
    assert more >= 2 and lacking(FACTS, 80, 4) == 0
    short, whole = (draw_panel(LONG, 80, 4 + extra, usual=4) for extra in (0, more))
    assert "…" in short.rows[2].text
    assert "…" not in "".join(row.text for row in whole.rows)
    assert " ".join("".join(row.text[20:] for row in whole.rows).split()).count("on and on.") == 7


def test_figures_stay_where_they_are_when_there_is_more_to_say() -> None:
    short, whole = (draw_panel(LONG, 80, height, usual=4) for height in (4, 7))
    left = slice(0, 20)
    assert [row.text[left] for row in short.rows] == [row.text[left] for row in whole.rows[3:]]
    assert not "".join(row.text[left] for row in whole.rows[:3]).strip()
