"""The action table holds together: every key once, every action carried out by the screen it belongs to."""

from collections import Counter
from importlib import import_module

import pytest
from textual.actions import parse

from trainer.screens.actions import ACTIONS, APPLICATION, EVERYWHERE, Action, actions_for, key_name
from trainer.screens.application import TwinspurApp
from trainer.screens.bindings import bindings_for
from trainer.screens.drawing.help_rows import help_rows
from trainer.screens.drawing.hints import draw_hints
from trainer.screens.pages import OVER, PAGES

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
    actions = (*actions_for("stand"), *APPLICATION)
    for width in (20, 80, 200):
        hints = draw_hints(actions, width)
        assert len(hints.rows[0].chars) == width
        for zone in hints.zones:
            hint = next(action.hint for action in actions if action.call == zone.call and action.hint)
            assert hints.rows[0].text[zone.x : zone.end].endswith(hint)


def test_ctrl_q_leaves_everywhere() -> None:
    assert [(action.keys, action.call) for action in APPLICATION if action.name == "quit"] == [
        (("ctrl+q",), "app.quit")
    ]


def test_keys_are_named_without_arrows_where_there_is_no_utf8() -> None:
    assert all(key_name(key, unicode=False).isascii() for action in ACTIONS for key in action.keys)
