"""A draft says what the file would say: the part that is tried, and nothing else of the music."""

from pathlib import Path

import pytest

from tests.exercises.bundled import NAMES
from tests.screens.music import TWIN
from trainer.music.interval import Distance
from trainer.music.part import HarmonyPart, TabPart, parse_distance
from trainer.music.problem import ProblemsError
from trainer.notation.read import read
from trainer.notation.tidy import tidy
from trainer.places import bundled
from trainer.session.draft import ChangeKind, Draft, OnDisk, sounds_as, take_back, write_draft
from trainer.session.editing import (
    AS_WRITTEN,
    INTERVALS,
    HarmonyPair,
    answer_name,
    fingering_at,
    kept_way,
    next_interval,
    other_ways,
    tried_words,
    where_words,
    with_interval,
)


def drafted(folder: Path, text: str = TWIN, name: str = "salt-road.md") -> Draft:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return Draft.of(OnDisk.read(path))


def tab(draft: Draft, riff: str, name: str) -> TabPart:
    found = draft.exercise.riff(riff)
    part = found.part(name) if found else None
    assert isinstance(part, TabPart)
    return part


def from_shelf(name: str) -> Draft:
    return Draft.of(OnDisk.read(bundled("exercises") / f"{name}.md"))


@pytest.mark.parametrize("name", NAMES)
def test_every_bundled_part_takes_a_fingering_and_the_music_stays(name: str) -> None:
    draft = from_shelf(name)
    for riff in draft.exercise.riffs:
        for part in riff.tabs:
            way, _ = fingering_at(part, riff, 1)
            assert way is not None
            made = draft.with_fingering(riff.name, way.part, 1)
            found = made.exercise.riff(riff.name)
            assert found is not None and found.part(part.name) == way.part and sounds_as(found, riff)
            assert tidy(made.text) == made.text
            others = [one for one in made.exercise.riffs if one.name != riff.name]
            assert others == [one for one in draft.exercise.riffs if one.name != riff.name]


@pytest.mark.parametrize("name", NAMES)
def test_every_bundled_line_takes_a_harmony_above_and_stays_itself(name: str) -> None:
    draft = from_shelf(name)
    riff = draft.exercise.riffs[0]
    names = [part.name for part in riff.tabs if part.name != "bass"]
    for mine in names[:2]:
        other = answer_name(mine, next((name for name in names if name != mine), ""), riff.part_names)
        try:
            made = draft.with_harmony(riff.name, HarmonyPart(other, mine, Distance.parse("third above")))
        except ProblemsError as error:
            assert "the neck's" in str(error)
            continue
        assert tab(made, riff.name, mine) == tab(draft, riff.name, mine)
        assert read(made.text).riff(riff.name) == made.written.riff(riff.name)


def test_several_parts_are_tried_at_once_and_each_goes_alone(tmp_path: Path) -> None:
    draft = drafted(tmp_path)
    riff = draft.exercise.riffs[1]
    line = tab(draft, "High gate", "guitar 1")
    both, _ = with_interval(draft, HarmonyPair("High gate", "guitar 1", "guitar 2"), "third above")
    both = both.with_fingering("High gate", kept_way(line, riff).part, 1)
    assert tried_words(both, "High gate") == "guitar 2: third above; guitar 1: fingering 1"
    assert tried_words(both, "Low gate") == "" != tried_words(both, "")
    one = both.without("High gate", "guitar 1", ChangeKind.FINGERING)
    assert one.text == TWIN.replace('"sixth below"', '"third above"')
    assert one.without("High gate", "guitar 2", ChangeKind.HARMONY).text == TWIN


def test_another_harmony_of_a_part_lets_its_fingering_go(tmp_path: Path) -> None:
    draft = drafted(tmp_path)
    riff = draft.exercise.riffs[1]
    answer = tab(draft, "High gate", "guitar 2")
    fingered = draft.with_fingering("High gate", kept_way(answer, riff).part, 1)
    changed, _ = with_interval(fingered, HarmonyPair("High gate", "guitar 1", "guitar 2"), "third above")
    assert [change.kind for change in changed.changes] == [ChangeKind.HARMONY]


def test_parts_that_trade_bars_are_written_out_together() -> None:
    draft = from_shelf("contrary-winds")
    riff = draft.exercise.riff("Changing places")
    assert riff is not None
    made = draft.with_fingering(riff.name, kept_way(tab(draft, riff.name, "guitar 1"), riff).part, 1)
    written = made.written.riff(riff.name)
    assert written is not None and not written.harmonies


def test_tempo_marks_that_stand_in_the_part_stay() -> None:
    draft = from_shelf("keel-down")
    riff = draft.exercise.riff("Careen")
    assert riff is not None and riff.tempo_marks
    made = draft.with_fingering(riff.name, kept_way(tab(draft, riff.name, "guitar 1"), riff).part, 1)
    found = made.exercise.riff(riff.name)
    assert found is not None and found.tempo_marks == riff.tempo_marks


def test_what_the_file_asks_of_a_harmony_besides_is_left_out_and_told(tmp_path: Path) -> None:
    text = TWIN.replace('interval = "sixth below"', 'interval = "sixth below"\nrange = "E2 E4"')
    draft = drafted(tmp_path, text)
    made, told = with_interval(draft, HarmonyPair("High gate", "guitar 1", "guitar 2"), "third above")
    assert "left out" in told and "range" not in made.text
    _, told = with_interval(drafted(tmp_path), HarmonyPair("High gate", "guitar 1", "guitar 2"), "third above")
    assert "left out" not in told


def test_out_of_range_says_which_note_and_leaves_the_draft_alone(tmp_path: Path) -> None:
    draft = drafted(tmp_path)
    made, told = with_interval(draft, HarmonyPair("Low gate", "guitar 1", "guitar 2"), "third below")
    assert made is draft
    assert told == "No third below. Bar 1: the answer to F#2 is D2, below the neck's lowest, E2."


# -- fingerings and intervals in turn -------------------------------------------------------------------------------


def test_fingerings_go_round_and_differ(tmp_path: Path) -> None:
    draft = drafted(tmp_path)
    riff, line = draft.exercise.riffs[1], tab(draft, "High gate", "guitar 1")
    assert fingering_at(line, riff, 0) == (None, None)
    first, count = fingering_at(line, riff, 1)
    assert first is not None and first.number == 1 and count is None
    last, count = fingering_at(line, riff, -1)
    assert last is not None and count == last.number == 1 + len(other_ways(line, riff))
    assert fingering_at(line, riff, count + 1) == (None, count)
    ways = [kept_way(line, riff), *other_ways(line, riff)]
    assert len({repr(way.part) for way in ways}) == len(ways) > 1
    assert [way.number for way in ways] == list(range(1, len(ways) + 1))


def test_where_a_fingering_lies_is_told_in_words(tmp_path: Path) -> None:
    draft = drafted(tmp_path)
    assert where_words(tab(draft, "High gate", "guitar 1")) == "frets 3 to 8 on string 2"
    assert where_words(tab(draft, "Low gate", "bass")) == "open strings only on string 4"


def test_intervals_go_round_by_way_of_what_the_file_has() -> None:
    seen = [AS_WRITTEN]
    for _ in INTERVALS:
        seen.append(next_interval(seen[-1], 1))
    assert tuple(seen[1:]) == INTERVALS and next_interval(seen[-1], 1) == AS_WRITTEN
    assert next_interval(AS_WRITTEN, -1) == INTERVALS[-1]
    assert next_interval(AS_WRITTEN, 1, filed="third above") == "third below"
    assert all(str(parse_distance(words)) == words for words in INTERVALS)


def test_who_answers() -> None:
    assert answer_name("guitar 1", "guitar 2", ("guitar 1", "guitar 2")) == "guitar 2"
    assert answer_name("guitar 1", "", ("guitar 1", "bass")) == "guitar 2"
    assert answer_name("guitar 2", "", ("guitar 2", "guitar 1")) == "guitar 3"


# -- on disk --------------------------------------------------------------------------------------------------------


def test_a_file_keeps_its_line_ends_through_writing_and_taking_back(tmp_path: Path) -> None:
    path = tmp_path / "salt-road.md"
    path.write_bytes(TWIN.replace("\n", "\r\n").encode())
    before = path.read_bytes()
    draft = Draft.of(OnDisk.read(path))
    made, _ = with_interval(draft, HarmonyPair("High gate", "guitar 1", "guitar 2"), "third above")
    after, step = write_draft(made, path)
    written = path.read_bytes()
    assert written.decode() == after.text and after.changes == ()
    assert written != before and written.count(b"\n") == written.count(b"\r\n")
    take_back(step)
    assert path.read_bytes() == before


def test_a_file_that_is_gone_is_told(tmp_path: Path) -> None:
    draft = drafted(tmp_path)
    made, _ = with_interval(draft, HarmonyPair("High gate", "guitar 1", "guitar 2"), "third above")
    draft.disk.path.unlink()
    with pytest.raises(ProblemsError, match="no such file"):
        write_draft(made, draft.disk.path)
    assert not draft.disk.path.exists()
