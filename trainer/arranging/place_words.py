"""Places in a bar as players say them: "bar 2, 3 &"."""

from fractions import Fraction

from trainer.music.meter import Meter

SUBDIVISIONS = {
    Fraction(0): "",
    Fraction(1, 4): " e",
    Fraction(1, 2): " &",
    Fraction(3, 4): " a",
    Fraction(1, 3): " la",
    Fraction(2, 3): " li",
}
"""What is said between two counts."""

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def count_words(offset: Fraction, meter: Meter) -> str:
    """The count at an offset in whole notes: "3 &"; "after 3" where counting has no word for it."""
    count, rest = divmod(offset / meter.count_length, 1)
    word = SUBDIVISIONS.get(rest)
    return f"after {int(count) + 1}" if word is None else f"{int(count) + 1}{word}"


def place_words(bar: int, offset: Fraction, meter: Meter) -> str:
    """A bar (from 1) and count: "bar 2, 3 &"."""
    return f"bar {bar}, {count_words(offset, meter)}"


def number_words(count: int) -> str:
    """A number in a sentence: in words up to twelve."""
    return NUMBERS[count] if 0 < count < len(NUMBERS) else str(count)


def bars_words(bars: tuple[int, ...]) -> str:
    """Some bars in order: "bar 3", "bars 1, 2 and 4", "bars 1 to 4"."""
    if len(bars) == 1:
        return f"bar {bars[0]}"
    if len(bars) > 2 and bars == tuple(range(bars[0], bars[-1] + 1)):
        return f"bars {bars[0]} to {bars[-1]}"
    return "bars " + join_words([str(bar) for bar in bars])


def join_words(words: list[str]) -> str:
    """Words as a list in a sentence: "a, b and c"."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + f" and {words[-1]}" if words else ""
