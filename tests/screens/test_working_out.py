"""The stand explains, fingers and harmonises while it plays, and writes into the file what is wanted."""

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.playback.recording_sink import unmatched
from tests.screens.music import TWIN, HandSink, machine
from tests.screens.settling import settled
from tests.screens.test_stand import Hall, standing
from trainer.music.note import Moment
from trainer.music.part import HarmonyPart, TabPart
from trainer.music.riff import Riff
from trainer.notation.files import file_text
from trainer.notation.read import read
from trainer.notation.tidy import tidy
from trainer.playback.event import Kind
from trainer.playback.piece import Loop
from trainer.screens.asking import Choose
from trainer.screens.drawing.staff import RowKind
from trainer.screens.widgets.rows import ScrolledRows
from trainer.screens.widgets.tab_view import TabView
from trainer.session.choices import Pane, View

FILE = "salt-road.md"


async def press(hall: Hall, *keys: str) -> None:
    """Press keys, and let everything come that they started."""
    for key in keys:
        await hall.press(key)
        await settled(hall.pilot, rounds=2)


def riff_of(hall: Hall) -> Riff:
    return hall.it.state.loaded.piece.riffs[0].riff


def tab(hall: Hall, name: str) -> TabPart:
    part = riff_of(hall).part(name)
    assert isinstance(part, TabPart)
    return part


def moments(part: TabPart) -> Iterator[Moment]:
    for bar in part.bars:
        yield from bar


def pitches(part: TabPart) -> list[int]:
    return [part.instrument.midi(note.string, note.fret) for moment in moments(part) for note in moment.notes]


def said(hall: Hall) -> str:
    return " ".join(hall.screen.said.split())


def words(hall: Hall) -> str:
    return "\n".join(row.text for row in hall.screen.query_one("#prose", ScrolledRows)._all_rows)


# -- explaining -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
async def test_the_explain_pane_tells_hardest_bar_ceilings_and_intervals(tmp_path: Path, size: tuple[int, int]) -> None:
    async with standing(tmp_path, size) as hall:
        await press(hall, "x")
        assert hall.screen.query_one("#prose").display
        told = " ".join(words(hall).split())
        assert "A guitar 1 at 100 bpm" in told and "Hardest in bar" in told and "is reached at" in told
        assert "guitar 2 plays thirds above guitar 1" in told
        assert "guitar 1 covers" in told
        assert "guitar 2 covers" not in told
        await press(hall, "x")
        assert hall.it.state.choices.explain is Pane.OFF


async def test_the_explanation_follows_tempo_and_part_and_stays_where_it_was_scrolled_to(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "x", "d", "d", "up")
        prose = hall.screen.query_one("#prose", ScrolledRows)
        assert prose.top == 2 and "A guitar 1 at 101 bpm" in words(hall)
        await press(hall, "s")
        assert "B guitar 2 at 101 bpm" in words(hall)
        await press(hall, "full_stop", "x")
        assert "High gate" in words(hall)


async def test_it_is_scrolled_while_it_plays(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "x", "space")
        await hall.run(6)
        await press(hall, "d", "d", "d")
        await hall.run(1)
        assert hall.it.running and hall.screen.query_one("#prose", ScrolledRows).top == 3


async def test_words_and_explanation_take_turns_and_the_neck_gives_way(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "p", "x")
        assert "Hardest" in words(hall)
        await press(hall, "p")
        assert "Two guitars over" in words(hall) and hall.it.state.choices.explain is Pane.OFF
        await press(hall, "n")
        assert hall.screen.panes.layout.neck
        await press(hall, "x")
        assert hall.screen.panes.layout.prose and "Hardest" in words(hall)


async def test_names_from_the_file_show_literally(tmp_path: Path) -> None:
    name = "[b]Low[/b] `gate` \x1b[31m"
    text = TWIN.replace("## Low gate", "## [b]Low[/b] `gate` **x**")
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    async with standing(tmp_path) as hall:
        await press(hall, "x")
        assert "[b]Low[/b] `gate` **x**" in words(hall)
        assert name not in words(hall)


async def test_drums_have_nothing_to_finger(tmp_path: Path) -> None:
    drums = "```tab drums\ncount | 1 2 3 4 | % | % | % |\nkick  | x   x   | % | % | % |\n```\n\n## High gate"
    (tmp_path / FILE).write_text(TWIN.replace("## High gate", drums), encoding="utf-8")
    async with standing(tmp_path) as hall:
        await press(hall, "tab", "tab", "tab", "m", "x")
        assert hall.it.state.mine == "drums" and "no pitches" in words(hall)
        await press(hall, "greater_than_sign")
        assert "nothing to finger" in said(hall)
        await press(hall, "H")
        assert "make a guitar mine" in said(hall)


# -- fingerings -----------------------------------------------------------------------------------------------------


async def test_fingerings_follow_each_other_with_fingers_and_strokes_on_my_tab(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        before = tab(hall, "guitar 1")
        await press(hall, "greater_than_sign")
        first = tab(hall, "guitar 1")
        assert "fingering 1" in said(hall) and "not written: guitar 1: fingering 1" in hall.text("#title")
        assert all(note.finger for moment in moments(first) for note in moment.notes if note.fret)
        assert all(moment.pick for moment in moments(first) if moment.notes)
        assert [n.fret for m in moments(first) for n in m.notes] == [n.fret for m in moments(before) for n in m.notes]
        rows = [(row.kind, row.part) for row in hall.screen.query_one(TabView).staff.rows]
        assert (RowKind.FINGER, "guitar 1") in rows and (RowKind.PICK, "guitar 1") in rows
        await press(hall, "greater_than_sign")
        second = tab(hall, "guitar 1")
        assert re.search(r"fingering 2 of \d", said(hall))
        assert [n.fret for m in moments(second) for n in m.notes] != [n.fret for m in moments(before) for n in m.notes]
        assert pitches(second) == pitches(before)
        await press(hall, "less_than_sign", "less_than_sign")
        assert tab(hall, "guitar 1") == before and "as the file has it" in said(hall)
        await press(hall, "less_than_sign")
        assert "fingering" in said(hall) and tab(hall, "guitar 1") != before


async def test_the_fingers_of_my_part_are_seen_in_the_smallest_usual_window(tmp_path: Path) -> None:
    async with standing(tmp_path, (80, 24)) as hall:
        await press(hall, "greater_than_sign")
        rows = hall.screen.query_one(TabView).staff.rows
        assert {(row.kind, row.part) for row in rows} >= {(RowKind.FINGER, "guitar 1"), (RowKind.PICK, "guitar 1")}
        assert {row.part for row in rows if row.kind is RowKind.STRING} == {"guitar 1", "guitar 2"}


async def test_a_fingering_changes_nothing_of_place_loop_and_tempo_while_it_plays(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "k", "k", "right", "left_square_bracket", "space")
        await hall.run(2)
        place = hall.it.playhead().place
        await press(hall, "greater_than_sign", "greater_than_sign")
        assert hall.it.running and hall.it.playhead().place == place
        assert hall.it.state.loop == Loop(1, 3) and hall.it.state.tempo_bpm == 100
        await hall.run(4)
        await press(hall, "space")
        hall.sink.run_to(hall.sink.now() + 48_000)
        assert unmatched(hall.sink.done) == ([], [])


async def test_the_neck_shows_fingers_and_strokes_of_the_fingering(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        await press(hall, "full_stop", "greater_than_sign")
        neck = hall.text("#neck")
        assert re.search(r"A[1-4]", neck) and re.search(r"^ A ⊓", neck, re.MULTILINE)


# -- harmonies ------------------------------------------------------------------------------------------------------


async def test_harmonies_follow_each_other_and_are_seen_and_heard_at_once(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop", "k", "k", "space")
        await hall.run(1)
        place, before = hall.it.playhead().place, pitches(tab(hall, "guitar 2"))
        await press(hall, "H")
        assert "third above" in said(hall) and "guitar 2: third above" in hall.text("#title")
        after = pitches(tab(hall, "guitar 2"))
        assert len(after) == len(before) and all(b - a >= 12 for a, b in zip(before, after, strict=True))
        assert hall.it.running and hall.it.playhead().place == place
        hall.sink.done.clear()
        await hall.run(2)
        channels = hall.sink.layout.of_part("guitar 2")
        heard = [each.one for each in hall.sink.done if each.kind is Kind.NOTE_ON and each.channel in channels]
        assert heard and set(heard) <= set(after)
        await press(hall, "G")
        assert pitches(tab(hall, "guitar 2")) == before and "as the file has it" in said(hall)
        await press(hall, "H", "H")
        assert "third below" in said(hall)


async def test_what_the_file_asks_for_is_not_offered_twice(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        told = []
        for _ in range(14):
            await press(hall, "H")
            told.append(said(hall))
        assert not any(one.startswith("guitar 2: third above") for one in told)
        assert "as the file has it" in told[-1]


async def test_a_harmony_out_of_range_names_the_note_and_the_next_key_goes_on(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        before = tab(hall, "guitar 2")
        await press(hall, "H")
        assert "No third below" in said(hall) and "E2" in said(hall) and "below the neck's lowest" in said(hall)
        assert tab(hall, "guitar 2") == before and hall.screen.working_out.tried() == ""
        await press(hall, "H")
        assert "sixth above" in said(hall) and tab(hall, "guitar 2") != before


async def test_a_harmony_is_chosen_from_a_list(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop", "I")
        assert isinstance(hall.app.screen, Choose)
        await press(hall, *["down"] * 7, "enter")
        assert "perfect fourth above" in said(hall)
        steps = {b - a for a, b in zip(pitches(tab(hall, "guitar 1")), pitches(tab(hall, "guitar 2")), strict=True)}
        assert steps == {5}


async def test_a_guitar_that_plays_alone_gets_a_second_one(tmp_path: Path) -> None:
    alone = TWIN.replace('\n```harmony guitar 2\nfollows = "guitar 1"\ninterval = "sixth below"\n```\n', "")
    alone = alone.replace('```harmony guitar 2\nfollows = "guitar 1"\ninterval = "third above"\n```', "")
    (tmp_path / FILE).write_text(alone, encoding="utf-8")
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop", "k", "k", "space")
        await hall.run(1)
        await press(hall, "H")
        assert hall.it.state.loaded.parts == ("guitar 1", "guitar 2") and hall.it.running
        assert "guitar 2" in hall.text("#panel")
        await hall.run(4)
        assert hall.sink.struck("guitar 2")


async def test_the_line_may_be_the_one_that_the_file_computes(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop", "s")
        line = tab(hall, "guitar 2")
        await press(hall, "H", "H", "H")
        assert "sixth above guitar 2" in said(hall) and tab(hall, "guitar 2") == line
        await press(hall, "ctrl+s")
        written = read(file_text(tmp_path / FILE)).riff("High gate")
        assert written is not None and isinstance(written.part("guitar 2"), TabPart)
        assert isinstance(written.part("guitar 1"), HarmonyPart)


async def test_everything_goes_back_to_what_the_file_has(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop")
        before = riff_of(hall)
        await press(hall, "H", "greater_than_sign")
        assert hall.screen.working_out.tried() == "guitar 2: third above; guitar 1: fingering 1"
        await press(hall, "X")
        assert riff_of(hall) == before and hall.screen.working_out.tried() == ""


async def test_in_the_whole_form_the_riff_of_the_chosen_bar_is_meant(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "f", *["right"] * 4, "H")
        low, _ = (played.riff for played in hall.it.state.loaded.piece.riffs)
        assert hall.screen.working_out.tried().startswith("guitar 2: third above") and "third above" in said(hall)
        assert hall.it.state.loaded.exercise.riff("Low gate") is low
        await press(hall, "x")
        assert "High gate" in words(hall)


# -- writing --------------------------------------------------------------------------------------------------------


async def test_what_is_tried_is_written_tidily_and_taken_back_step_by_step(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        original = file_text(tmp_path / FILE)
        await press(hall, "full_stop", "H", "ctrl+s")
        first = file_text(tmp_path / FILE)
        assert "Written into salt-road.md: guitar 2: third above" in said(hall)
        assert first == original.replace('"sixth below"', '"third above"')
        assert hall.screen.working_out.tried() == ""
        await press(hall, "greater_than_sign", "ctrl+s")
        second = file_text(tmp_path / FILE)
        high = second.split("## High gate")[1]
        assert "finger | " in high and tidy(second).endswith(high)
        assert read(second).riff("Low gate") == read(original).riff("Low gate")
        await press(hall, "ctrl+z")
        assert file_text(tmp_path / FILE) == first and "as it was before" in said(hall)
        assert not any(note.finger for moment in moments(tab(hall, "guitar 1")) for note in moment.notes)
        await press(hall, "ctrl+z")
        assert file_text(tmp_path / FILE) == original
        await press(hall, "ctrl+z")
        assert "nothing to take back" in said(hall)
        assert [path.name for path in tmp_path.iterdir() if path.suffix not in (".json", ".md")] == []


async def test_writing_and_taking_back_do_not_stop_the_playing(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop", "k", "k", "space")
        await hall.run(2)
        place = hall.it.playhead().place
        await press(hall, "H", "ctrl+s", "ctrl+z")
        assert hall.it.running and hall.it.playhead().place == place
        await hall.run(Fraction(5, 2))
        await press(hall, "space")
        hall.sink.run_to(hall.sink.now() + 48_000)
        assert unmatched(hall.sink.done) == ([], [])


async def test_nothing_tried_is_nothing_to_write(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "ctrl+s")
        assert "nothing to write" in said(hall)


async def test_a_file_that_changed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / FILE
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop", "H")
        path.write_text(TWIN.replace("Salt Road", "Salt Lane"), encoding="utf-8")
        await press(hall, "ctrl+s")
        assert (
            "changed" in said(hall)
            and "Salt Lane" in file_text(path)
            and "third above" in hall.screen.working_out.tried()
        )
        path.write_text(TWIN, encoding="utf-8")
        await press(hall, "ctrl+s")
        assert "Written" in said(hall)
        mine = file_text(path) + "\nA line of my own.\n"
        path.write_text(mine, encoding="utf-8")
        await press(hall, "ctrl+z")
        assert "changed" in said(hall) and file_text(path) == mine


async def test_a_file_that_changed_before_anything_was_tried_says_to_open_it_again(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        (tmp_path / FILE).write_text(TWIN.replace("| 5 7 8 7 5 3 5 7", "| 5 7 8 7 5 3 5 8"), encoding="utf-8")
        before = riff_of(hall)
        await press(hall, "H")
        assert "Open it again" in said(hall) and riff_of(hall) is before


async def test_a_file_that_cannot_be_written_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "full_stop", "H")

        def full(*_: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("os.fsync", full)
        await press(hall, "ctrl+s")
        monkeypatch.undo()
        assert "No space left" in said(hall) and file_text(tmp_path / FILE) == TWIN
        assert "third above" in hall.screen.working_out.tried()


async def test_a_bundled_exercise_is_copied_first_and_the_copy_goes_with_undo(tmp_path: Path) -> None:
    shelf, own = tmp_path / "bundled", tmp_path / "own" / "exercises"
    shelf.mkdir()
    sink = HandSink()
    around = replace(machine(shelf, sink), own_file=lambda path: own / path.name if shelf in path.parents else path)
    around.exercises.library.folders = (own, shelf)  # type: ignore[attr-defined]  # the test's folder has a library
    async with standing(shelf, around=around, sink=sink) as hall:
        await press(hall, "full_stop", "H", "ctrl+s")
        assert "copy of your own" in said(hall) and "bundled file stays" in said(hall)
        assert '"third above"' in file_text(own / FILE).split("## High gate")[1]
        assert file_text(shelf / FILE) == TWIN
        assert around.exercises.find("salt-road") == own / FILE
        await press(hall, "H", "ctrl+s")
        assert "Written into salt-road.md" in said(hall)
        await press(hall, "ctrl+z")
        assert '"third above"' in file_text(own / FILE).split("## High gate")[1]
        await press(hall, "ctrl+z")
        assert not (own / FILE).exists() and "gone again" in said(hall)
        assert around.exercises.find("salt-road") == shelf / FILE


async def test_a_copy_never_lands_on_another_file_of_mine(tmp_path: Path) -> None:
    shelf, own = tmp_path / "bundled", tmp_path / "own"
    shelf.mkdir()
    own.mkdir()
    (own / FILE).write_text("mine", encoding="utf-8")
    sink = HandSink()
    around = replace(machine(shelf, sink), own_file=lambda path: own / path.name)
    async with standing(shelf, around=around, sink=sink) as hall:
        await press(hall, "full_stop", "H", "ctrl+s")
        assert "another file of this name" in said(hall) and file_text(own / FILE) == "mine"


async def test_my_part_alone_shows_the_fingering_too(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await press(hall, "v", "greater_than_sign")
        assert hall.it.state.choices.view is View.MINE
        assert RowKind.FINGER in {row.kind for row in hall.screen.query_one(TabView).staff.rows}
