"""What a terminal without UTF-8 is sent."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from trainer.screens.ascii_only import ascii_text


@pytest.mark.parametrize(
    ("drawn", "sent"),
    [
        ("╭──╮", "+--+"),
        ("│ ▇▇│", "| ##|"),
        ("Étude für zwei", "Etude fur zwei"),
        ("“so”, 2 \N{MULTIPLICATION SIGN} 4 →", '"so", 2 x 4 >'),
        ("鶴", "??"),
        ("plain", "plain"),
    ],
)
def test_frames_bars_and_letters(drawn: str, sent: str) -> None:
    assert ascii_text(drawn) == sent


@given(st.text(st.characters(exclude_categories=["Cc", "Cs"])))
def test_every_text_keeps_its_cells(text: str) -> None:
    assert ascii_text(text).isascii()
    assert cell_len(ascii_text(text)) == sum(map(cell_len, text))
