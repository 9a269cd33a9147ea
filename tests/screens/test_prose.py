"""The lesson's words show as they are written, and do nothing."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from trainer.music.printable import is_printable, printable
from trainer.screens.drawing import ink
from trainer.screens.drawing.prose import prose_rows, wrapped


def text_of(source: str, width: int = 60) -> str:
    return "\n".join(row.text.rstrip() for row in prose_rows(source, width))


def test_paragraphs_headings_and_lists_have_their_shape() -> None:
    shown = text_of("# Iron\n\nTwo guitars\nover one.\n\n- first\n- second\n\n3. third\n\n> aside")
    assert shown == "Iron\n\nTwo guitars over one.\n\n - first\n\n - second\n\n3. third\n\n  aside"


def test_links_show_where_they_would_lead_and_html_and_markup_show_literally() -> None:
    shown = text_of("See [this](https://example.org) <b>now</b> [red]loud[/red].\n\n<script>x</script>")
    assert "See this (https://example.org) <b>now</b> [red]loud[/red]." in shown
    assert "<script>x</script>" in shown


def test_escape_sequences_show_as_their_codes() -> None:
    shown = text_of("a\x1b[31mb\x1b]8;;https://example.org\x07c\u202ed")
    assert "\x1b" not in shown and "\\x1b[31m" in shown and "\\u202e" in shown


def test_emphasis_stands_out_and_code_is_kept_as_it_is() -> None:
    rows = prose_rows("play **slowly**\n\n```\n5 | 2 3\n```", 40)
    assert ("slowly", ink.STRONG) in [(text.strip(), kind) for text, kind in rows[0].runs()]
    assert any("5 | 2 3" in row.text for row in rows)


def test_a_word_longer_than_the_line_is_cut_into_lines() -> None:
    assert wrapped("a " + "x" * 25, 10) == ["a", "x" * 10, "x" * 10, "x" * 5]


@given(st.text(max_size=300), st.integers(3, 90))
def test_every_line_fits_whatever_the_text(source: str, width: int) -> None:
    for row in prose_rows(source, width):
        assert len(row.chars) == width
        assert is_printable(row.text)


def test_wide_characters_take_two_cells_and_none_is_lost() -> None:
    rows = prose_rows("双吉他の練習" * 5, 11)
    assert "".join(row.text.strip() for row in rows) == "双吉他の練習" * 5


@pytest.mark.parametrize("text", ["a" + "\u00a0" * 60 + "b", "\u00a0" * 150, "鶴" * 9, "x" * 5000])
def test_a_word_longer_than_a_line_is_cut(text: str) -> None:
    lines = wrapped(text, 20)
    assert all(cell_len(line) <= 20 for line in lines)
    assert "".join(lines).replace("\u00a0", "") == text.replace("\u00a0", "")
    assert len(lines) <= len(text) // 10 + 1
    prose_rows(text, 20)


@given(st.text(st.sampled_from("ab \u00a0\u3000鶴é-"), max_size=60), st.integers(1, 12))
def test_wrapped_lines_fit_and_keep_every_word(text: str, width: int) -> None:
    lines = wrapped(text, width)
    assert all(cell_len(line) <= max(width, 2) for line in lines)
    if width > 1:
        assert "".join("".join(lines).split()) == "".join(printable(text).split())
