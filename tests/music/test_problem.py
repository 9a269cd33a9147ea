"""A problem is told in one line, each sentence of it ended once."""

import pytest

from trainer.music.problem import Problem


@pytest.mark.parametrize(
    ("hint", "told"),
    [
        ("", "a.md:3:5: this is no fret."),
        ("Write a number", "a.md:3:5: this is no fret. Write a number."),
        ("Write a number.", "a.md:3:5: this is no fret. Write a number."),
        ('Did you mean "7"', 'a.md:3:5: this is no fret. Did you mean "7"?'),
        ('Did you mean "7"?', 'a.md:3:5: this is no fret. Did you mean "7"?'),
    ],
)
def test_a_hint_ends_with_one_mark(hint: str, told: str) -> None:
    assert str(Problem("a.md", 3, 5, "this is no fret", hint=hint)) == told
