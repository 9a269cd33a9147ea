"""Every choice is found again, and a damaged file harms nothing."""

import json
import threading
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.practice.line import Line
from trainer.practice.plan import PlanBlock, Purpose
from trainer.session.choices import Choices, Method, Pane, View
from trainer.session.day_plan import KEPT_PLAN, DayPlan
from trainer.session.memory import (
    DECIDES,
    HEADPHONES_READ,
    INPUT,
    LOGBOOK_EXERCISE,
    MOST,
    OUTPUT,
    SHELF_EXERCISE,
    SHELF_SEARCH,
    THEME,
    MemoryKey,
    SessionMemory,
)  # fmt: skip
from trainer.session.pedal import PEDAL, Pedal, Press, Switch

MANY = Choices(
    mine="guitar 2", first=1, last=2, bpm=98.5, unheard=("drums",), levels=(("bass", -3.0),), click="gallop",
    silent_bars="2:2", count_in=2, between=True, method=Method.LADDER, fading=True, guide_db=2.0, swap_every=1,
    view=View.ALL, quality=True, neck=Pane.ON, prose=Pane.OFF,
)  # fmt: skip


def test_choices_are_found_again_by_another_start(tmp_path: Path) -> None:
    memory = SessionMemory(tmp_path / "s" / "stand.json")
    memory.keep("iron", "Low road", MANY)
    memory.close()
    again = SessionMemory(tmp_path / "s" / "stand.json")
    assert again.choices("iron", "Low road") == MANY
    assert again.last == ("iron", "Low road")
    assert again.choices("iron", "High road") is None


def test_what_is_as_usual_is_not_written() -> None:
    assert Choices().as_dict() == {}
    assert json.loads(json.dumps(MANY.as_dict())) == json.loads(json.dumps(MANY.as_dict(), sort_keys=True))


@pytest.mark.parametrize("text", ["", "{", "[]", '{"version": 9}', '{"version": 1, "riffs": 3}', "\x00" * 50])
def test_a_damaged_file_is_as_good_as_none(tmp_path: Path, text: str) -> None:
    path = tmp_path / "stand.json"
    path.write_text(text)
    memory = SessionMemory(path)
    assert memory.last is None
    memory.keep("iron", "Low road", MANY)
    memory.close()
    assert SessionMemory(path).choices("iron", "Low road") == MANY


@given(
    st.dictionaries(
        st.sampled_from([*MANY.as_dict(), "other"]),
        st.none() | st.integers() | st.text(max_size=20) | st.lists(st.text(max_size=20), max_size=5),
    )
)
def test_choices_from_any_values_are_choices(values: dict[str, object]) -> None:
    found = Choices.from_dict(values)
    assert 0 <= found.count_in <= 4
    assert found.first >= 0 and found.last >= -1


def test_a_folder_that_cannot_be_written_is_told_once(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    told: list[str] = []
    memory = SessionMemory(tmp_path / "file" / "stand.json", told.append)
    memory.keep("iron", "Low road", MANY)
    memory.put(THEME, "light")
    memory.close()
    memory.put(OUTPUT, "Rack 1")
    assert len(told) == 1
    assert memory.get(THEME) == "light"
    assert memory.choices("iron", "Low road") == MANY


def test_other_things_are_kept_too_and_what_makes_no_sense_is_as_usual(tmp_path: Path) -> None:
    memory = SessionMemory(tmp_path / "stand.json")
    memory.put(PEDAL, Pedal("Floor", Switch(Press.NOTE, 0, 36)))
    memory.put(MemoryKey[object]("theme", ""), 3)
    memory.close()
    again = SessionMemory(tmp_path / "stand.json")
    assert again.get(PEDAL) == Pedal("Floor", Switch(Press.NOTE, 0, 36))
    assert (again.get(THEME), again.get(OUTPUT)) == ("", "")


def test_many_changes_are_one_write_and_nobody_waits_for_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    writers: list[str] = []

    def slow(path: Path, text: str) -> None:
        writers.append(threading.current_thread().name)
        path.write_text(text)

    monkeypatch.setattr("trainer.session.memory.save", slow)
    memory = SessionMemory(tmp_path / "stand.json", gather_s=0.2)
    for bar in range(50):
        memory.keep("iron", "Low road", replace(MANY, first=bar, last=60))
    assert writers == []
    writer = next(each for each in threading.enumerate() if each.name == "memory")
    writer.join(10)
    assert writers == ["memory"]
    memory.close()
    assert writers == ["memory"], "what is written already is not written again"
    found = SessionMemory(tmp_path / "stand.json").choices("iron", "Low road")
    assert found is not None and found.first == 49


def test_what_another_window_kept_meanwhile_stays(tmp_path: Path) -> None:
    mine, other = SessionMemory(tmp_path / "stand.json"), SessionMemory(tmp_path / "stand.json")
    mine.keep("iron", "Low road", MANY)
    mine.put(THEME, "light")
    other.put(OUTPUT, "Rack 1")
    other.close()
    mine.close()
    again = SessionMemory(tmp_path / "stand.json")
    assert (again.get(THEME), again.get(OUTPUT), again.last) == ("light", "Rack 1", ("iron", "Low road"))


def test_the_longest_unused_riffs_are_forgotten_first(tmp_path: Path) -> None:
    memory = SessionMemory(tmp_path / "stand.json")
    for number in range(MOST + 5):
        memory.keep("iron", str(number), MANY)
    memory.keep("iron", "0", MANY)
    memory.close()
    again = SessionMemory(tmp_path / "stand.json")
    assert again.choices("iron", "1") is None and again.choices("iron", str(MOST + 4)) == MANY


def test_what_0_1_0_remembered_is_found() -> None:
    memory = SessionMemory(Path(__file__).parent.parent / "kept_0_1_0" / "state" / "twinspur" / "stand.json")
    assert memory.last == ("iron-causeway", "Low road")
    assert memory.choices("quay-iron", "") == Choices(count_in=2)
    assert memory.choices("nacht-fähre", "Über [b]Bord[/b]") == Choices(
        mine="Gitarre 1", bpm=88.5, neck=Pane.ON, view=View.ALL
    )
    assert memory.choices("iron-causeway", "Low road") == Choices(
        mine="guitar 2", first=1, last=3, bpm=Fraction("112.25"), unheard=("drums", "click"),
        levels=(("bass", -6.0), ("guitar 1", 2.5)), click="gallop", silent_bars="2:1", count_in=1, between=True,
        method=Method.FRONT, fading=True, guide_db=-3.5, swap_every=4, view=View.MINE, quality=True,
        neck=Pane.OFF, prose=Pane.ON, explain=Pane.ON,
    )  # fmt: skip
    assert memory.get(PEDAL) == Pedal("Floor 4", Switch(Press.CONTROL, 0, 80), Switch(Press.NOTE, 9, 36))
    lead, twin = Line("iron-causeway", "Low road", "guitar 1"), Line("iron-causeway", "Low road", "guitar 2")
    assert memory.get(KEPT_PLAN) == DayPlan(
        date(2026, 3, 9), 45, False,
        (PlanBlock(Purpose.WARM_UP, 5, lead, None, 64), PlanBlock(Purpose.HARD_BAR, 1, lead, 3, 100),
         PlanBlock(Purpose.RIFF, 24, lead, None, 100), PlanBlock(Purpose.BREAK, 5),
         PlanBlock(Purpose.ENDING, 3, twin, None, 86)),
        frozenset({0, 3}), frozenset({1}), ((lead, 61.5), (twin, 0.0)),
    )  # fmt: skip
    kept = [memory.get(key) for key in (THEME, OUTPUT, INPUT, DECIDES, HEADPHONES_READ, SHELF_EXERCISE)]
    assert kept == ["textual-dark", "Rack 1", "", "both", True, "x"]
    assert memory.get(LOGBOOK_EXERCISE) == "iron-causeway"
    assert memory.get(SHELF_SEARCH)["band"] == "130 to 159 bpm"
