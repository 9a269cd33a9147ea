"""Every choice is found again, and a damaged file harms nothing."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.screens.choices import Choices, Pane, View, Way
from trainer.screens.memory import Memory

MANY = Choices(
    mine="guitar 2", first=1, last=2, bpm=98.5, unheard=("drums",), levels=(("bass", -3.0),), click="gallop",
    silent_bars="2:2", count_in=2, between=True, way=Way.LADDER, fading=True, guide_db=2.0, swap_every=1,
    view=View.ALL, quality=True, neck=Pane.ON, prose=Pane.OFF,
)  # fmt: skip


def test_choices_are_found_again_by_another_start(tmp_path: Path) -> None:
    Memory(tmp_path / "s" / "stand.json").keep("iron", "Low road", MANY)
    again = Memory(tmp_path / "s" / "stand.json")
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
    memory = Memory(path)
    assert memory.last is None
    memory.keep("iron", "Low road", MANY)
    assert Memory(path).choices("iron", "Low road") == MANY


@given(
    st.dictionaries(
        st.sampled_from([*MANY.as_dict(), "other"]), st.none() | st.integers() | st.text() | st.lists(st.text())
    )
)
def test_choices_from_any_values_are_choices(values: dict[str, object]) -> None:
    found = Choices.from_dict(values)
    assert 0 <= found.count_in <= 4
    assert found.first >= 0 and found.last >= -1


def test_a_folder_that_cannot_be_written_is_told_once(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    told: list[str] = []
    memory = Memory(tmp_path / "file" / "stand.json", told.append)
    memory.keep("iron", "Low road", MANY)
    memory.put("theme", "light")
    assert len(told) == 1
    assert memory.get("theme") == "light"
    assert memory.choices("iron", "Low road") == MANY


def test_other_things_are_kept_too(tmp_path: Path) -> None:
    Memory(tmp_path / "stand.json").put("pedal", {"port": "Floor"})
    assert Memory(tmp_path / "stand.json").get("pedal") == {"port": "Floor"}
