"""Shelf, logbook and today as they look, at two sizes in every theme: what the snapshots hold was looked at.

After a change that is meant, look at the report and run with --snapshot-update.
"""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.screens.record_stage import TODAY, practise, stage, want
from tests.screens.settling import settled
from trainer.practice.line import Line
from trainer.screens.application import TwinspurApp
from trainer.screens.shelf import LOOK_SECONDS
from trainer.screens.themes import THEME_NAMES

TITLES = (
    ("Salt Road", "E aeolian", 150, "gallop"),
    ("Weir Song", "B locrian", 126, "twin leads"),
    ("Étude of Cranes", "F# harmonic minor", 112, "legato"),
    ("Cold Forge", "A aeolian", 184, "gallop"),
    ("Nine Bridges to the Customs House and Back", "C dorian", 138, "odd meter"),
    ("[b]Literal[/b]", "E aeolian", 90, "[red]"),
)
EXERCISE = """+++
title = "{title}"
by = "Tollmere"
key = "{key}"
tags = ["{tag}", "picking hand"]
tempo = {{ start = 80, target = {target} }}
+++

## Causeway

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a |
6     | 0 0 0 0 0 0 0 0 3 2 0 0 |
```

```harmony guitar 2
follows = "guitar 1"
interval = "third above"
```

## Gate

```tab guitar 1
count | 1 2 3 4 |
5     | 2 3 5 r |
```
"""
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
THEMES = pytest.mark.parametrize("theme", THEME_NAMES)


@pytest.fixture
def show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, str], TwinspurApp]:
    """An application with six exercises, some weeks of practice and two goals, the same on every machine."""
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TZ", "UTC")
    monkeypatch.chdir(tmp_path)
    ready = stage(Path(), own=False)
    for number, (title, key, target, tag) in enumerate(TITLES):
        ready.write(f"{number}.md", EXERCISE.format(title=title, key=key, target=target, tag=tag))
    ready.write("broken.md", '+++\ntitle = "Broken Oar"\ntempo = "fast"\n+++\n')
    lead, second, other = (
        Line("0", "Causeway", "guitar 1"), Line("0", "Causeway", "guitar 2"), Line("3", "Gate", "guitar 1"),
    )  # fmt: skip
    practise(ready.log, lead)
    practise(ready.log, second, days=20, until=2, seed=3, best=80)
    practise(ready.log, other, days=90, until=12, seed=5)
    want(ready.log, lead, by=TODAY + timedelta(days=60))
    want(ready.log, other, 170, number=2)

    def app(page: str, theme: str) -> TwinspurApp:
        made = ready.app(page)
        made.theme = theme
        return made

    return app


def pressing(*keys: str) -> Callable[[Pilot[None]], object]:
    async def press(pilot: Pilot[None]) -> None:
        await settled(pilot, 6)
        for key in keys:
            await pilot.press(key)
        await pilot.pause(LOOK_SECONDS)  # what is chosen is read once the player pauses
        await settled(pilot, 6)

    return press


@SIZES
@THEMES
def test_the_shelf(
    snap_compare: Callable[..., bool], show: Callable[[str, str], TwinspurApp], size: tuple[int, int], theme: str
) -> None:
    assert snap_compare(show("shelf", theme), terminal_size=size, run_before=pressing("down", "down"))


@SIZES
@THEMES
def test_the_logbook(
    snap_compare: Callable[..., bool], show: Callable[[str, str], TwinspurApp], size: tuple[int, int], theme: str
) -> None:
    assert snap_compare(show("logbook", theme), terminal_size=size, run_before=pressing("down"))


@SIZES
@THEMES
def test_today(
    snap_compare: Callable[..., bool], show: Callable[[str, str], TwinspurApp], size: tuple[int, int], theme: str
) -> None:
    assert snap_compare(show("today", theme), terminal_size=size, run_before=pressing("space"))


@pytest.mark.parametrize("view", ["2", "3", "4"], ids=["takes", "days", "goals"])
def test_the_logbooks_other_views(
    snap_compare: Callable[..., bool], show: Callable[[str, str], TwinspurApp], view: str
) -> None:
    assert snap_compare(show("logbook", "dark"), terminal_size=(80, 24), run_before=pressing("down", view))
