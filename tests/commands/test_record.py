"""log, goals, today: the record on the command line."""

import json
from pathlib import Path

import pytest

from tests.commands.conftest import Call
from tests.practice.made import LEAD, played
from trainer.commands.own_machine import close_machine, machine
from trainer.practice.passes import Pass
from trainer.practice.verdict import Outcome
from trainer.session.day_plan import KEPT_PLAN
from trainer.session.memory import SessionMemory


@pytest.fixture
def practised(home: Path) -> list[Pass]:
    """Three clean passes and a missed one in the player's log."""
    passes = [played(i, Outcome.CLEAN if i < 3 else Outcome.MISSED, tempo_bpm=100.0 + i) for i in range(4)]
    for each in passes:
        machine().log.add(each)
    close_machine()
    return passes


def test_an_empty_record_says_what_to_do(call: Call) -> None:
    assert call("log").out == "Nothing is recorded yet. Practise with twinspur.\n"
    assert call("goals").out.startswith("No goals. Set one")


def test_the_record_is_told_by_exercise_and_by_line(call: Call, practised: list[Pass]) -> None:
    everything = json.loads(call("log", "--json").out)
    assert everything["totals"]["passes"] == 4
    assert everything["exercises"][0]["best_bpm"] == 102
    assert "75%" in call("log").out
    [line] = json.loads(call("log", "iron-causeway", "--json").out)
    assert (line["line"], line["clean_share"]) == (LEAD._asdict(), 0.75)
    assert "Low road" in call("log", "iron-causeway").out


@pytest.mark.parametrize("ending", ["json", "csv"])
def test_what_is_exported_is_imported_once(call: Call, practised: list[Pass], home: Path, ending: str) -> None:
    before = call("log", "--json").out
    assert call("log", "--export", f"all.{ending}").code == 0
    assert "0 new passes, 4 known already" in call("log", "--import", f"all.{ending}").out
    assert call("log", "--json").out == before
    (home / "data" / "twinspur" / "log.sqlite").rename(home / "old.sqlite")
    assert "4 new passes, 0 known already" in call("log", "--import", f"all.{ending}").out
    assert json.loads(call("log", "--json").out)["exercises"] == json.loads(before)["exercises"]


def test_an_import_is_undone_by_one_command(call: Call, practised: list[Pass], home: Path) -> None:
    aside = home / "old.sqlite"
    (home / "data" / "twinspur" / "log.sqlite").rename(aside)
    assert "There is no import to undo" in call("log", "--undo-import").out
    brought = call("log", "--import", str(aside)).out
    assert "4 new passes, 0 known already" in brought and "--undo-import" in brought
    assert "taken out again: 4 passes and 0 goals." in call("log", "--undo-import").out
    assert json.loads(call("log", "--json").out)["exercises"] == []


def test_what_is_no_export_is_refused(call: Call) -> None:
    done = call("log", "--import", "iron.md")
    assert (done.code, "no export of a practice log" in done.err) == (1, True)
    assert call("log", "--export", "x.txt").code == 2
    assert call("log", "--export", "nowhere/x.json").code == 1


def test_goals_are_set_given_up_and_taken_up(call: Call) -> None:
    words = ["goals", "iron-causeway", "--riff", "low road", "--add", "160", "--by", "2030-03-01"]
    assert "There is not enough record yet" in call(*words).out
    assert "given up" in call("goals", "--give-up", "1").out
    assert "kept" in call("goals", "--take-up", "1").out
    [goal] = json.loads(call("goals", "--json").out)
    assert (goal["riff"], goal["part"], goal["target_bpm"], goal["by"]) == ("Low road", "guitar 1", 160, "2030-03-01")
    assert goal["forecast"]["prospect"] == "not enough record yet"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--add", "160"], "needs an exercise and a riff"),
        (["iron-causeway", "--riff", "Low rd", "--add", "160"], 'Did you mean "Low road"'),
        (["iron-causeway", "--riff", "Low road", "--add", "9000"], "20 to 400 bpm"),
        (["iron-causeway", "--riff", "Low road", "--part", "guitar 9", "--add", "160"], 'no part "guitar 9"'),
        (["iron-causeway", "--riff", "Low road", "--add", "160", "--by", "soon"], "a date such as"),
        (["--give-up", "1"], "there is no goal 1"),
    ],
)
def test_a_goal_that_cannot_be_is_told(call: Call, words: list[str], message: str) -> None:
    done = call("goals", *words)
    assert (done.code, message in done.err) == (2, True), done.err


def test_today_fills_the_minutes(call: Call) -> None:
    blocks = json.loads(call("today", "--minutes", "60", "--json").out)
    assert blocks[0]["kind"] == "warm-up"
    assert blocks[-1]["kind"] == "ending"
    assert any(block["kind"] == "break" for block in blocks)
    assert 50 <= sum(block["minutes"] for block in blocks) <= 60
    assert "see a professional" in call("today").out
    assert call("today", "--minutes", "0").code == 2


def test_one_plan_a_day_for_the_command_and_the_screen(call: Call, practised: list[Pass], home: Path) -> None:
    made = call("today", "--json").out
    assert call("today", "--json").out == made
    assert "was made for today" in call("today").out
    path = home / "state" / "twinspur" / "stand.json"
    memory = SessionMemory(path)
    kept = memory.get(KEPT_PLAN)
    assert kept is not None and [block.minutes for block in kept.blocks] == [b["minutes"] for b in json.loads(made)]
    memory.put(KEPT_PLAN, kept.toggled(0, True))
    memory.close()
    longer = json.loads(call("today", "--minutes", "60", "--json").out)
    assert longer[0] == json.loads(made)[0] | {"state": "done"}
    assert 55 <= sum(block["minutes"] for block in longer) <= 60
    assert json.loads(call("today", "--json").out) == longer
    assert json.loads(call("today", "--new", "--json").out)[0] == longer[0]


def test_limits_are_measured_from_clean_passes(call: Call, practised: list[Pass]) -> None:
    """At the tempo of the fastest clean pass the hands do as much as they have shown."""
    words = ("demand", "iron-causeway", "--riff", LEAD.riff, "--part", LEAD.part, "--tempo", "102", "--measured")
    told = call(*words).out
    assert f"({LEAD.riff}, {LEAD.part} at 102 bpm)" in told
    assert "100% of the limit" in told
    assert "Limits of your own" in told


def test_without_a_clean_pass_the_limits_are_house_rules(call: Call) -> None:
    told = call("demand", "iron-causeway", "--riff", "Low road", "--part", "guitar 1", "--measured").out
    assert "No clean pass of a whole riff is in the record yet" in told
    assert "house rules for trained hands, not yours" in told
