"""Which take of a sound a note gets: a bank that has several chooses by the velocity's last two bits.

Two equal notes are never the same recording twice: strokes up and down differ, and each comes in two takes, in turn by
count, so that a piece always sounds the same. A bank without takes is 3 steps of velocity away at most, which nobody
hears.
"""

TAKES = 4
"""Velocities that follow each other sound these takes in turn; the first belongs to multiples of 4."""


def string_take(up: bool, count: int) -> int:
    """The take of a pick stroke: up or down, and how many in that direction came before it.

    >>> string_take(False, 0), string_take(True, 0), string_take(False, 1), string_take(True, 1)
    (0, 1, 2, 3)
    """
    return up + 2 * (count % 2)


def for_take(velocity: int, take: int) -> int:
    """The velocity nearest below that sounds a take, at least 1.

    >>> [for_take(98, take) for take in range(4)]
    [96, 97, 98, 99]
    """
    return max(1, velocity & ~3 | take % TAKES)


def same_take(velocity: int, like: int) -> int:
    """A velocity near this one that sounds the take of the velocity `like`.

    >>> same_take(103, like=98)
    102
    """
    return for_take(velocity, like % TAKES)
