"""What can be typed into a prompt is used or refused in a sentence, never the end of the program."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.screens.typed import record_file, take_file, trouble, typed_folder, typed_goal, typed_minutes

NOBODY = "~nobody-of-that-name/x"
LONG = "/tmp/" + "n" * 5000


@pytest.mark.parametrize("text", ["", "x", "²", "-5", "4", "241", "9" * 5000, "5 5", "1e2"])
def test_minutes_that_are_none_are_refused(text: str) -> None:
    assert trouble(typed_minutes)(text) == "Type whole minutes, from 5 to 240."


@pytest.mark.parametrize(("text", "minutes"), [("5", 5), (" 90 ", 90), ("240", 240), ("٣٠", 30)])
def test_minutes(text: str, minutes: int) -> None:
    assert typed_minutes(text) == minutes


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "Name a folder"),
        ("riffs", "whole path"),
        (NOBODY, "home folder"),
        (LONG, "File name too long"),
        ("/tmp/\0", "whole path"),
        ("/nowhere/at/all", "no such folder"),
    ],
)
def test_a_folder_that_cannot_be_used(text: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        typed_folder(text)


@pytest.mark.parametrize("text", [NOBODY + ".json", LONG + ".json", "log.json", "/tmp", "/tmp/log.txt", "/no/log.csv"])
def test_a_place_for_the_record_that_cannot_be_used(text: str) -> None:
    assert trouble(record_file)(text).endswith(".")


def test_a_place_for_the_record_or_a_take(tmp_path: Path) -> None:
    assert record_file(f" {tmp_path}/log.CSV ") == tmp_path / "log.CSV"
    assert "must end" in trouble(record_file)(f"{tmp_path}/log.txt")
    assert "whole path" in trouble(record_file)("log.json")
    assert "no such folder" in trouble(record_file)(f"{tmp_path}/absent/log.json")
    assert take_file(f"{tmp_path}", ".wav") == tmp_path
    assert take_file(f"{tmp_path}/one.wav", ".wav") == tmp_path / "one.wav"
    (tmp_path / "one.wav").touch()
    for text in ("one.wav", f"{tmp_path}/one.wav", f"{tmp_path}/two.mid", f"{tmp_path}/no/two.wav", NOBODY):
        assert trouble(lambda typed: take_file(typed, ".wav"))(text).endswith(".")


def test_a_goal_is_a_tempo_and_perhaps_a_date() -> None:
    assert typed_goal("160") == (160.0, None)
    assert typed_goal("160bpm, 2031-05-01") == (160.0, date(2031, 5, 1))
    for text, told in (("", "Type a tempo"), ("soon", "no tempo"), ("9999", "between"), ("160 May", "no date")):
        with pytest.raises(ValueError, match=told):
            typed_goal(text)


@settings(max_examples=40, deadline=None)  # it looks at the disk
@given(st.text())
def test_no_text_is_more_than_refused(text: str) -> None:
    for read in (typed_goal, typed_minutes, typed_folder, record_file, lambda typed: take_file(typed, ".wav")):
        assert isinstance(trouble(read)(text), str)
