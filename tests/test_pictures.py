"""The README's pictures are what the screens look like now, and fetch nothing."""

import pytest

from tests.pictures import FOLDER, PICTURES, THEMES, drawn


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_current(name: str, theme: str) -> None:
    """After a change that is meant: `python -m tests.pictures`, and look at them."""
    assert (FOLDER / f"{name}-{theme}.svg").read_text("utf-8") == drawn(name, theme)


def test_a_picture_fetches_nothing() -> None:
    for path in FOLDER.glob("*.svg"):
        assert "url(http" not in path.read_text("utf-8").replace("url(#", "")
