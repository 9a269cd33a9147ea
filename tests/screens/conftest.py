"""Screens are tested without waiting for what is not the screen's: an idle event loop is enough."""

import pytest

from tests.screens.settling import WAITS, loop_idle


@pytest.fixture(autouse=True)
def _waiting_for_the_loop_only(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in WAITS:
        monkeypatch.setattr(name, loop_idle)
