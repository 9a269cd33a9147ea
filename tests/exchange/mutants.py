"""Files that were damaged in ways that others' files are: bytes lost, doubled, swapped, numbers made too large."""

import random
import re

_NUMBERS = (b"0", b"-1", b"1", b"99999999", b"1000000000000", b"x", b"0.5", b"")


def mutants(data: bytes, count: int, seed: int) -> list[bytes]:
    """So many damaged copies of a file, the same for the same seed."""
    rng = random.Random(seed)
    return [_mutant(data, rng) for _ in range(count)]


def _mutant(data: bytes, rng: random.Random) -> bytes:
    made = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 5, 20))):
        at = rng.randrange(max(len(made), 1))
        length = rng.choice((1, 1, 2, 8, 64, 1000))
        kind = rng.randrange(6)
        if kind == 0 and made:
            made[at] = rng.randrange(256)
        elif kind == 1:
            del made[at : at + length]
        elif kind == 2:
            made[at:at] = made[at : at + length]
        elif kind == 3:
            made[at : at + length] = rng.randbytes(min(length, 16))
        elif kind == 4:
            other = rng.randrange(max(len(made), 1))
            made[at : at + length] = made[other : other + length]
        else:
            numbers = list(re.finditer(rb">(\d+)<", bytes(made[:200_000])))
            if numbers:
                found = rng.choice(numbers)
                made[found.start(1) : found.end(1)] = rng.choice(_NUMBERS)
    return bytes(made)


def elements_lost(text: str, count: int, seed: int) -> list[str]:
    """So many copies of an XML text that is still well-formed, with elements lost or doubled and numbers changed."""
    rng = random.Random(seed)
    found = []
    leaves = list(re.finditer(r"<([a-z-]+)(?: [^<>]*)?>[^<>]*</\1>|<[a-z-]+(?: [^<>]*)?/>", text))
    for _ in range(count):
        made = text
        for leaf in sorted(rng.sample(leaves, min(len(leaves), rng.choice((1, 3, 10)))), key=lambda m: -m.start()):
            number = re.sub(r">\d+<", f">{rng.choice(_NUMBERS).decode()}<", leaf[0])
            made = made[: leaf.start()] + rng.choice(("", leaf[0] * 2, number)) + made[leaf.end() :]
        found.append(made)
    return found
