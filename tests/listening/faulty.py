"""Known faults, put into a performance that has none: what was done, where, and what a verdict must say of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random

from tests.listening.plucked import Played, late
from trainer.listening.judging import Judgement
from trainer.listening.written import WrittenPart, WrittenStroke

LEAST_GAP_S = 0.14
"""A single stroke is moved only where its neighbours are farther off than this: nearer ones are judged by group."""
POSITIONS = {
    -2: "two frets too low",
    -1: "one fret too low",
    1: "one fret too high",
    2: "two frets too high",
    5: "a fourth too high",
}
"""What must be said of a wrong position, besides that it is the other guitar's line."""


@dataclass(frozen=True)
class Faulty:
    """A performance with one fault."""

    kind: str
    """A key of `FAULTS`, or `clean`."""
    notes: tuple[Played, ...]
    strokes: tuple[WrittenStroke, ...] = ()
    """The strokes that have it; a sentence must name one of them, where it names a place."""
    words: tuple[str, ...] = ()
    """One of them must stand in the sentence."""
    told_as: str = ""
    """The kind under which the verdict lists it."""
    bias_ms: float | None = None
    """A steady bias against a start that is known; no fault."""

    def named(self, judgement: Judgement, within: int = 3) -> bool:
        """Whether the first sentences name fault and place; without a fault, whether nothing is blamed."""
        clean = str(judgement.verdict.outcome) == "clean" and not judgement.verdict.reasons
        if not self.told_as:
            return clean and (not self.words or any(word in judgement.habit for word in self.words))
        places = {(stroke.bar, stroke.count) for stroke in self.strokes}
        return any(
            fault.kind == self.told_as
            and any(word in fault.reason.sentence for word in self.words)
            and (not places or (fault.reason.bar, fault.reason.count) in places)
            for fault in judgement.faults[:within]
        )


def _gaps(written: WrittenPart, index: int) -> tuple[float, float]:
    """Seconds from the stroke before and to the stroke after."""
    at = [float(stroke.at) for stroke in written.strokes]
    before = at[index] - at[index - 1] if index else 9.0
    return before, at[index + 1] - at[index] if index + 1 < len(at) else 9.0


def _some(random: Random, written: WrittenPart, fits: Callable[[int], bool]) -> int | None:
    """A stroke, not the first or the last, that a fault fits."""
    places = [index for index in range(1, len(written.strokes) - 1) if fits(index)]
    return random.choice(places) if places else None


def missed(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """One stroke left out; the one before it rings on or is damped where it was to be."""
    index = random.randrange(1, len(notes) - 1)
    if random.random() < 0.5:
        notes[index - 1] = replace(notes[index - 1], length_s=notes[index - 1].length_s + notes[index].length_s)
    del notes[index]
    return Faulty("missed", tuple(notes), (written.strokes[index],), ("lost",), "missed")


def wrong(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """One stroke at another fret or on another string."""

    def graded(index: int) -> bool:
        stroke = written.strokes[index]
        return bool(stroke.pitches) and not (stroke.bent or stroke.dead or stroke.slurred)

    index = _some(random, written, graded)
    if index is None:
        return None
    shift = random.choice((-2, -1, 1, 2, 5) if notes[index].pitches[0] > 42 else (1, 2, 5))
    notes[index] = replace(notes[index], pitches=tuple(pitch + shift for pitch in notes[index].pitches))
    return Faulty("wrong", tuple(notes), (written.strokes[index],), (POSITIONS[shift], "line"), "wrong")


def double(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """The pick touches twice."""
    index = _some(random, written, lambda k: _gaps(written, k)[1] > 0.17 and not written.strokes[k].slurred)
    if index is None:
        return None
    after = random.uniform(0.055, min(0.11, _gaps(written, index)[1] - 0.09))
    again = replace(notes[index], at_s=notes[index].at_s + after, loudness=0.9 * notes[index].loudness)
    return Faulty("double", (*notes, again), (written.strokes[index],), ("double",), "extra")


def extra(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """A note that nobody wrote between two strokes."""
    index = _some(random, written, lambda k: _gaps(written, k)[1] > 0.2 and bool(written.strokes[k].pitches))
    if index is None:
        return None
    note = notes[index]
    pitches = (note.pitches[-1] + random.choice((1, 2, 3, 4)),)
    between = replace(note, at_s=note.at_s + 0.5 * _gaps(written, index)[1], pitches=pitches, slurred=False)
    return Faulty("extra", (*notes, between), (written.strokes[index],), ("extra note",), "extra")


def stray(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """One stroke far off in time."""
    index = _some(random, written, lambda k: min(_gaps(written, k)) > LEAST_GAP_S and not written.strokes[k].slurred)
    if index is None:
        return None
    sign, most = random.choice((-1, 1)), 0.4 * min(_gaps(written, index)) * 1000
    moved = late(notes, (index,), sign * random.uniform(52, min(70, most)) if most > 52 else sign * 52)
    return Faulty("stray", tuple(moved), (written.strokes[index],), (" late" if sign > 0 else " early",), "stray")


def place(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """The second of the gallop's short notes late throughout."""
    which = [k for k, stroke in enumerate(written.strokes) if stroke.figure.is_second]
    if len(which) < 6:
        return None
    moved = late(notes, which, random.uniform(18, 28))
    strokes = tuple(written.strokes[k] for k in which)
    return Faulty("place", tuple(moved), strokes, (strokes[0].figure.value,), "place")


def drift(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """Rushing or dragging, evenly, from the first stroke to the last."""
    total = random.choice((-1, 1)) * random.uniform(80, 150)
    length = float(written.strokes[-1].at)
    moved = [replace(n, at_s=n.at_s + total / 1000 * float(written.strokes[n.of].at) / length) for n in notes]
    return Faulty("drift", tuple(moved), (), ("fall behind" if total > 0 else "run ahead",), "drift")


def _gallops(written: WrittenPart) -> list[int]:
    """Where each gallop begins, forward or reverse."""
    found, index = [], 0
    while index + 3 < len(written.strokes):
        roles = [written.strokes[index + k].figure for k in range(3)]
        whole = sorted(role.is_long + 2 * role.is_first + 3 * role.is_second for role in roles) == [1, 2, 3]
        found += [index] if whole else []
        index += 3 if whole else 1
    return found


def _flattened(
    written: WrittenPart, notes: list[Played], share: float, bar: int | None = None
) -> tuple[list[Played], list[WrittenStroke]]:
    """Gallops with the long note shorter, both short ones longer, the beats where they were; and their strokes.

    Args:
        written: the part.
        notes: as they were played.
        share: what is left of long to short.
        bar: the one bar in which they are flattened; None for all.
    """
    moved, strokes = list(notes), []
    for k in _gallops(written):
        three = written.strokes[k : k + 3]
        at = [float(stroke.at) for stroke in written.strokes[k : k + 4]]
        if written.strokes[k + 3].bar > three[0].bar + 1 or at[3] - at[2] > 1.01 * float(three[2].length):
            continue
        if bar is not None and any(stroke.bar != bar for stroke in three):
            continue
        lengths = [b - a for a, b in pairwise(at)]
        short = min(lengths)
        asked = max(lengths) / short
        scale = (asked + 2) / (share * asked + 2)
        shares = [share if stroke.figure.is_long else 1.0 for stroke in three]
        new = [length * scale * part for length, part in zip(lengths, shares, strict=True)]
        for step in (1, 2):
            off = sum(new[:step]) - sum(lengths[:step])
            moved[k + step] = replace(moved[k + step], at_s=moved[k + step].at_s + off)
        strokes += three
    return moved, strokes


def flat(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """Every gallop flattened."""
    moved, strokes = _flattened(written, notes, random.uniform(0.6, 0.75))
    if len(strokes) < 18:
        return None
    return Faulty("flat", tuple(moved), tuple(strokes), ("flattens",), "gallop")


def flat_bar(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """The gallops of one bar flattened, those of the others as written."""
    share = random.uniform(0.6, 0.75)
    every = _flattened(written, notes, share)[1]
    bars = [bar for bar in {stroke.bar for stroke in every} if sum(each.bar == bar for each in every) >= 6]
    if len(bars) < 3 or len(every) < 24:
        return None
    moved, strokes = _flattened(written, notes, share, random.choice(sorted(bars)))
    return Faulty("flat bar", tuple(moved), tuple(strokes), ("flattens",), "gallop")


def lost_bar(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """A whole bar left out."""
    bars = sorted({stroke.bar for stroke in written.strokes})
    fits = [bar for bar in bars if sum(stroke.bar == bar for stroke in written.strokes) >= 4]
    if len(bars) < 3 or not fits:
        return None
    bar = random.choice(fits)
    kept = tuple(note for note in notes if written.strokes[note.of].bar != bar)
    strokes = tuple(stroke for stroke in written.strokes if stroke.bar == bar)
    return Faulty("lost bar", kept, strokes, (f"Bar {bar} was not heard",), "silent")


def hand(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """The hand in a wrong place for some strokes: one fret too low or high, or on the next string."""
    least = 5
    begins = [
        k for k in range(1, len(notes) - least)
        if all(s.pitches and not (s.bent or s.slurred) for s in written.strokes[k : k + least])
    ]  # fmt: skip
    if not begins or len(notes) < 3 * least:
        return None
    first, shift = random.choice(begins), random.choice((-1, 1, 5))
    for k in range(first, first + least):
        notes[k] = replace(notes[k], pitches=tuple(max(38, pitch + shift) for pitch in notes[k].pitches))
    strokes = written.strokes[first : first + least]
    return Faulty("hand", tuple(notes), strokes, (POSITIONS[shift], "line"), "wrong")


def bias(written: WrittenPart, notes: list[Played], random: Random) -> Faulty | None:
    """Steadily early or late by as much as players are: a habit, not a fault."""
    off = random.choice((-1, 1)) * random.uniform(10, 18)
    words = (" behind the click" if off > 0 else " ahead of the click",)
    return Faulty("bias", tuple(late(notes, range(len(notes)), off)), (), words, bias_ms=off)


FAULTS: dict[str, Callable[[WrittenPart, list[Played], Random], Faulty | None]] = {
    "missed": missed, "wrong": wrong, "double": double, "extra": extra, "stray": stray, "place": place, "drift": drift,
    "flat": flat, "flat bar": flat_bar, "lost bar": lost_bar, "hand": hand, "bias": bias,
}  # fmt: skip
"""Every fault; a maker gives None where a part has no place for it."""
GALLOPING = ("place", "flat", "flat bar")
"""Faults of gallops only."""


def clean(notes: Sequence[Played]) -> Faulty:
    """No fault at all."""
    return Faulty("clean", tuple(notes))
