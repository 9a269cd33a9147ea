"""The letters that tell parts apart on the screen and in words."""

PARTS = "ABCDEFGH"


def letter_of(number: int) -> str:
    """The letter of the part with this index; the last one serves all that are left."""
    return PARTS[min(number, len(PARTS) - 1)]
