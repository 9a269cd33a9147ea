"""The calendar of practice."""

from datetime import date, timedelta

from trainer.practice.reading import DayRecord
from trainer.screens.drawing.calendar import calendar_rows, day_sentence, legend, level, span_for
from trainer.screens.drawing.day_words import ago, due_words, minutes_words
from trainer.screens.drawing.ink import Panel
from trainer.screens.drawing.pen import ASCII, BOX

TODAY = date(2031, 3, 14)


def day(when: date, minutes: float) -> DayRecord:
    return DayRecord(when, 10, 6, 2, 60 * minutes)


def drawn(*days: DayRecord, chosen: date | None = None, width: int = 80, ascii_only: bool = False) -> Panel:
    span = span_for(width, chosen or TODAY, TODAY)
    pen = ASCII if ascii_only else BOX
    return calendar_rows({each.day: each for each in days}, span, chosen, TODAY, width=width, pen=pen)


def test_a_day_is_fuller_the_longer_was_played() -> None:
    assert [level(60 * minutes) for minutes in (0, 0.2, 14, 15, 29, 30, 59, 60, 300)] == [0, 1, 1, 2, 2, 3, 3, 4, 4]


def test_this_week_is_the_last_column_and_days_to_come_are_empty() -> None:
    rows = drawn(day(TODAY, 70)).rows
    assert rows[5].text.rstrip().endswith("██")
    assert rows[6].text.rstrip().endswith("·")
    assert len(rows[6].text.rstrip()) < len(rows[5].text.rstrip())


def test_months_stand_over_the_week_of_their_first_days() -> None:
    months = drawn().rows[0].text.split()
    assert months[:2] == ["Sep", "2030"] or months[:2] == ["Oct", "2030"]
    assert months[-1] == "Mar"
    assert "2031" in months


def test_the_chosen_day_is_bracketed() -> None:
    text = drawn(day(TODAY, 70), chosen=TODAY).rows[5].text
    assert "[██]" in text


def test_a_day_long_ago_brings_its_weeks_into_view() -> None:
    long_ago = TODAY - timedelta(days=900)
    assert "[" in "".join(row.text for row in drawn(chosen=long_ago).rows)


def test_a_click_chooses_the_day_it_hits() -> None:
    panel = drawn(day(TODAY, 70))
    x = panel.rows[5].text.index("██")
    assert panel.call_at(x, 5) == "choose_day('2031-03-14')"
    assert panel.call_at(x, 4) == "choose_day('2031-03-13')"
    assert panel.call_at(0, 5) == ""


def test_state_is_told_by_glyphs_without_utf_8_too() -> None:
    panel = drawn(day(TODAY, 70), day(TODAY - timedelta(days=1), 5), ascii_only=True)
    text = "\n".join(row.text for row in panel.rows)
    assert text.isascii()
    assert "##" in text
    assert "--" in text
    assert legend(80, ASCII).text.isascii()


def test_a_day_in_words() -> None:
    assert day_sentence(TODAY, day(TODAY, 45)) == "Fri 2031-03-14: 45 min, 10 passes, 6 of 8 judged ones clean"
    assert day_sentence(TODAY, None) == "Fri 2031-03-14: nothing played"


def test_days_and_minutes_in_words() -> None:
    words = {0: "today", 1: "yesterday", 9: "9 days ago", 61: "2031-01-12", -1: "2031-03-15"}
    assert {back: ago(TODAY - timedelta(days=back), TODAY) for back in words} == words
    assert ago(None, TODAY) == ""
    due = {
        0: "due today",
        1: "tomorrow",
        9: "in 9 days",
        -1: "1 day late",
        -9: "9 days late",
        -99: "long due",
        70: "2031-05-23",
    }
    assert {ahead: due_words(TODAY + timedelta(days=ahead), TODAY) for ahead in due} == due
    assert [minutes_words(60 * minutes) for minutes in (0, 0.6, 119, 120, 600)] == [
        "0 min",
        "1 min",
        "119 min",
        "2.0 h",
        "10.0 h",
    ]
