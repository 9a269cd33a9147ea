"""The action table holds together: every key once, every action carried out by the screen it belongs to."""

from collections import Counter
from importlib import import_module

import pytest
from textual.actions import parse

from trainer.screens.actions import (
    ACTIONS,
    APPLICATION,
    EVERYWHERE,
    Action,
    actions_for,
    bindings_for,
    hinted,
    key_name,
    last_hints,
    stand_hints,
)
from trainer.screens.application import TwinspurApp
from trainer.screens.drawing.page_lines import draw_hints
from trainer.screens.help_page import help_rows
from trainer.screens.pages import OVER, PAGES
from trainer.screens.players_words import ALSO_CALLED, answers_to

WHERE = sorted({action.where for action in ACTIONS})


@pytest.mark.parametrize("where", WHERE)
def test_no_key_means_two_things_on_one_screen(where: str) -> None:
    keys = Counter(key for action in (*actions_for(where), *APPLICATION * (where != EVERYWHERE)) for key in action.keys)
    assert [key for key, times in keys.items() if times > 1] == []


@pytest.mark.parametrize("where", WHERE)
def test_names_and_titles_are_unique_on_one_screen(where: str) -> None:
    for field in ("name", "title"):
        found = Counter(getattr(action, field) for action in actions_for(where))
        assert [name for name, times in found.items() if times > 1] == []


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: f"{action.where}-{action.name}")
def test_every_action_is_carried_out_by_its_screen_or_by_the_application(action: Action) -> None:
    space, name, _ = parse(action.call)
    if space == "app" or action.where == EVERYWHERE:
        owner: type = TwinspurApp
    else:
        page = (PAGES | OVER)[action.where]
        owner = getattr(import_module(page.module), page.name)
    assert hasattr(owner, f"action_{name}"), f"{owner.__name__} cannot {name}"


@pytest.mark.parametrize("where", WHERE)
def test_bindings_bear_the_actions_names_and_help(where: str) -> None:
    ids = {getattr(binding, "id", None) for binding in bindings_for(where)}
    assert {action.name for action in actions_for(where)} <= ids
    assert all(getattr(binding, "tooltip", "") for binding in bindings_for(where))


@pytest.mark.parametrize("where", WHERE)
def test_the_help_page_tells_every_action_with_its_keys(where: str) -> None:
    rows = [row.text for row in help_rows(actions_for(where), (), 140)]
    for action in actions_for(where):
        assert any(action.title in row and key_name(action.keys[0]) in row for row in rows)


def test_hints_are_cut_off_whole_and_can_be_clicked() -> None:
    actions, last = hinted("stand"), last_hints("stand")
    for width in (20, 80, 200):
        hints = draw_hints(actions, last, width)
        assert len(hints.rows[0].chars) == width
        for zone in hints.zones:
            hint = next(action.hint for action in (*last, *actions) if action.call == zone.call and action.hint)
            assert hints.rows[0].text[zone.x : zone.end].endswith(hint)


@pytest.mark.parametrize("width", [40, 60, 80, 120, 200])
@pytest.mark.parametrize("unicode", [True, False])
@pytest.mark.parametrize("page", [*PAGES, *OVER])
def test_help_and_the_way_back_come_last_on_every_screen_and_are_never_cut(
    page: str, unicode: bool, width: int
) -> None:
    foot = draw_hints(hinted(page), last_hints(page), width, unicode).rows[0].text
    assert foot.rstrip().endswith("F1 help  ctrl q leave" if page == "shelf" else "F1 help  esc back")


def test_the_foot_of_the_stand_says_what_the_moment_asks_for() -> None:
    def foot(**moment: bool) -> str:
        return draw_hints(stand_hints(**moment), last_hints("stand"), 80).rows[0].text.strip()

    assert foot(playing=False, listening=False).startswith("space start  ↑ tempo  [ loop  tab part  L listen")
    assert foot(playing=True, listening=False).startswith("enter clean  backspace not clean  space stop")
    assert foot(playing=False, listening=True).startswith("space start  U verdict  T takes")
    assert foot(playing=True, listening=True).startswith("U verdict  T takes  space stop")


@pytest.mark.parametrize(
    ("said", "name"),
    [("mute", "hear"), ("solo", "just"), ("slower", "slower"), ("metronome", "click"), ("undo", "take_back"),
     ("speed", "tempo"), ("minus one", "others"), ("Volume", "louder"), ("mic", "listen"), ("fretboard", "neck")],
)  # fmt: skip
def test_an_action_is_found_by_what_players_call_it(said: str, name: str) -> None:
    found = [action.name for action in actions_for("stand") if answers_to(action, said)]
    assert name in found and len(found) < 12


def test_the_words_players_use_belong_to_actions_that_are_there() -> None:
    assert set(ALSO_CALLED) <= {action.name for action in ACTIONS}


def test_ctrl_q_leaves_everywhere() -> None:
    assert [(action.keys, action.call) for action in APPLICATION if action.name == "quit"] == [
        (("ctrl+q",), "app.quit")
    ]


def test_keys_are_named_without_arrows_where_there_is_no_utf8() -> None:
    assert all(key_name(key, unicode=False).isascii() for action in ACTIONS for key in action.keys)
