"""Every theme can be read: contrast by WCAG 2.2, and nothing told by colour alone."""

import pytest

from trainer.screens.themes import LINE_CONTRAST, NO_COLOUR, PALETTES, STYLES, TEXT_CONTRAST, THEME_NAMES, contrast

GROUNDS = ("ground", "raised")
LINES = ("line", "bar")
COLOURED = [name for name in THEME_NAMES if name != NO_COLOUR]


def test_contrast_is_what_wcag_says() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("theme", COLOURED)
def test_text_stands_out_from_its_ground(theme: str) -> None:
    colours = PALETTES[theme]
    texts = [name for name in colours if name not in (*GROUNDS, *LINES, "head-ground", "head-ink")]
    for name in texts:
        for ground in GROUNDS:
            assert contrast(colours[name], colours[ground]) >= TEXT_CONTRAST, (name, ground)
    assert contrast(colours["head-ink"], colours["head-ground"]) >= TEXT_CONTRAST


@pytest.mark.parametrize("theme", COLOURED)
def test_lines_and_the_playhead_can_be_seen(theme: str) -> None:
    colours = PALETTES[theme]
    for name in (*LINES, "head-ground"):
        assert contrast(colours[name], colours["ground"]) >= LINE_CONTRAST, name


def test_high_contrast_is_higher() -> None:
    colours = PALETTES["high contrast"]
    assert min(contrast(colours[n], colours["ground"]) for n in colours if n.startswith("part-")) >= 7


def test_without_colour_the_playhead_is_reversed_and_nothing_has_a_colour() -> None:
    assert set(PALETTES[NO_COLOUR].values()) == {"ansi_default"}
    assert "reverse" in STYLES[NO_COLOUR]["playhead"]
    assert "reverse" in STYLES[NO_COLOUR]["chosen"]


def test_all_themes_have_the_same_names() -> None:
    assert len({frozenset(PALETTES[name]) for name in THEME_NAMES}) == 1
    assert len({frozenset(STYLES[name]) for name in THEME_NAMES}) == 1
