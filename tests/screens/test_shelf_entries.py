"""What is found on the shelf, and in which order."""

from datetime import UTC, date, datetime

from trainer.notation.head import Head
from trainer.notation.titles import folded
from trainer.practice.assigned import KeptAssignment, Standing
from trainer.practice.line import Line
from trainer.practice.reading import ExerciseRecord
from trainer.screens.drawing.shelf_rows import asked_rows
from trainer.screens.shelf_contents import (
    BANDS,
    Band,
    ShelfOrder,
    ShelfSearch,
    Words,
    entries,
    is_due,
    keys,
    matching,
    ordered,
    tags,
    twin_files,
)

TODAY = 741_000


def head(title: str, **more: object) -> Head:
    values: dict[str, object] = {"file": f"/shelf/{title}.md", "id": title.casefold(), "title": title}
    return Head(**(values | {"target_bpm": 150.0} | more))  # type: ignore[arg-type]


def record(name: str, *, best: float = 100.0, last: int = 1000, due: int | None = None) -> ExerciseRecord:
    return ExerciseRecord(name, 4, 3, 1, 40.0, best, last, due)


LANTERN = head("Étude of Lanterns", tags=("gallop", "whole song"), key="E aeolian", by="Tollmere", riffs=("Low road",))
MILL = head("Mill Race", tags=("gallop",), key="B locrian", target_bpm=99.0)
BROKEN = head("Broken", problem='Broken.md:3:1: "tempo" must be a number.')
SHELF = entries((LANTERN, MILL, BROKEN), {"mill race": record("mill race", due=TODAY - 2)})


def titles(wanted: ShelfSearch) -> list[str]:
    return [entry.head.title for entry in matching(ordered(SHELF, wanted.order), wanted, TODAY)]


def test_every_word_is_looked_for_in_titles_tags_keys_authors_and_riffs() -> None:
    for words in ("lantern", "GALLOP song", "aeolian toll", "low road", "e"):
        assert "Étude of Lanterns" in titles(ShelfSearch(words=words)), words
    assert titles(ShelfSearch(words="lantern mill")) == []
    assert titles(ShelfSearch(words="  ")) == ["Broken", "Étude of Lanterns", "Mill Race"]


def test_accents_and_case_do_not_matter() -> None:
    assert folded("Étude") == "etude"
    assert titles(ShelfSearch(words="etude")) == ["Étude of Lanterns"]


def test_filters_narrow_together() -> None:
    assert titles(ShelfSearch(tag="gallop")) == ["Étude of Lanterns", "Mill Race"]
    assert titles(ShelfSearch(tag="gallop", key="B locrian")) == ["Mill Race"]
    assert titles(ShelfSearch(tag="gallop", band=Band(130, 160))) == ["Étude of Lanterns"]
    assert titles(ShelfSearch(due=True)) == ["Mill Race"]
    assert titles(ShelfSearch(due=True, key="E aeolian")) == []


def test_due_is_due_today_and_before() -> None:
    assert is_due(record("a", due=TODAY), TODAY)
    assert is_due(record("a", due=TODAY - 9), TODAY)
    assert not is_due(record("a", due=TODAY + 1), TODAY)
    assert not is_due(record("a"), TODAY)
    assert not is_due(None, TODAY)


def test_orders() -> None:
    heads = [head("A", target_bpm=200.0, key="C dorian"), head("B", target_bpm=100.0), head("C", key="A dorian")]
    records = {"a": record("a", best=100, last=5, due=9), "b": record("b", best=90, last=7, due=3)}
    shelf = entries(heads, records)
    found = {order: "".join(entry.head.title for entry in ordered(shelf, order)) for order in ShelfOrder}
    assert found == {
        ShelfOrder.TITLE: "ABC",
        ShelfOrder.KEY: "CAB",
        ShelfOrder.TARGET: "BCA",
        ShelfOrder.BEST: "BAC",
        ShelfOrder.LAST: "BAC",
        ShelfOrder.DUE: "BAC",
    }


def test_tempo_bands_hold_every_target_once() -> None:
    for bpm in (20, 99.5, 100, 129, 130, 159, 160, 189.9, 190, 500):
        assert sum(band.low <= bpm < band.high for band in BANDS) == 1
    assert [band.title for band in BANDS] == [
        "under 100 bpm", "100 to 129 bpm", "130 to 159 bpm", "160 to 189 bpm", "190 bpm and over",
    ]  # fmt: skip


def test_tags_and_keys_with_how_many_have_them() -> None:
    assert tags(SHELF) == (("gallop", 2), ("whole song", 1))
    assert keys(SHELF) == (("B locrian", 1), ("E aeolian", 1))


def test_a_file_whose_id_is_taken_is_hidden_behind_the_first() -> None:
    other = head("Other", id="mill race", file="/later/other.md")
    assert twin_files(entries((MILL, other), {})) == {"/later/other.md": MILL.file}


def test_what_a_full_reading_found_is_wrong_too() -> None:
    found = entries((MILL, BROKEN), {}, {MILL.file: "mill.md:9:3: a note stands under no count."})
    assert [entry.wrong for entry in found] == ["mill.md:9:3: a note stands under no count.", BROKEN.problem]


def test_words_are_worked_out_anew_for_a_changed_file() -> None:
    words = Words()
    assert "mill race" in words.of(MILL)
    changed = head("Mill Race", tags=("bends",))
    assert "bends" in words.of(changed)


def asked(done: date | None = None) -> Standing:
    at = datetime(2029, 10, 1, tzinfo=UTC)
    by = date.fromordinal(TODAY - 1)
    line = Line("mill race", "Low road", "guitar 2")
    return Standing(
        KeptAssignment(line, 132.0, at, teacher="Ines", bars=(1, 4), by=by, minutes=10, note="Slow\nly."), done
    )


def test_what_a_teacher_asks_for_comes_first_until_it_is_done() -> None:
    for done, first in ((None, "Mill Race"), (date.fromordinal(TODAY - 3), "Étude of Lanterns")):
        shelf = entries((LANTERN, MILL), {}, asked={"mill race": (asked(done),)})
        for order in (ShelfOrder.TITLE, ShelfOrder.LAST):
            assert ordered(shelf, order)[0].head.title == first


def test_typing_teacher_or_the_teachers_name_finds_what_is_to_do() -> None:
    shelf = entries((LANTERN, MILL), {}, asked={"mill race": (asked(),)})
    for words in ("my teacher", "ines"):
        assert [each.head for each in matching(shelf, ShelfSearch(words=words), TODAY)] == [MILL]


def test_an_assignment_in_a_sentence() -> None:
    today = date.fromordinal(TODAY)
    by = date.fromordinal(TODAY - 1).isoformat()
    told = f'Ines: Low road, bars 1 to 4, guitar 2, 132 bpm by {by}, 10 minutes a day (late). "Slow ly."'
    assert asked_rows([asked()], today) == (told,)
    assert "(done)" in asked_rows([asked(today)], today)[0]
