"""A whole exercise at a glance: its riffs in the order they are played, and what changes at the joins between them.

Tempos are targets. Density counts the onsets of the busiest guitar. A join's jump is how far the frets of a part's last
fretted moment before it lie from those of its first one after it; open strings ask for no jump.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.arranging.played_chords import numeral
from trainer.arranging.riff_clock import riff_clock
from trainer.arranging.strokes import strokes
from trainer.music.exercise import Exercise
from trainer.music.key import Key
from trainer.music.note import Moment, Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff


@dataclass(frozen=True, slots=True)
class FormRow:
    """One riff in its place in the form."""

    riff: str
    times: int
    """Played so often in a row."""
    bars: int
    key: Key
    meters: tuple[str, ...]
    """Each meter once, in order."""
    bpm: Fraction
    seconds: float
    """Once through, at the target."""
    notes_per_s: float


@dataclass(frozen=True, slots=True)
class FormJoin:
    """What changes from one riff to the next."""

    before: str
    after: str
    degree: str
    """The new home note as a degree of the old key; empty where it stays."""
    mode: str
    """The new mode; empty where it stays."""
    tempo_ratio: float
    """New tempo / old tempo."""
    part: str
    """The part whose hand jumps farthest; empty where none does."""
    jump_frets: int
    """How far, in frets; + is up the neck."""
    same_stroke: bool
    """That part's pick strikes twice in one direction across the join."""


@dataclass(frozen=True, slots=True)
class FormMap:
    """An exercise's form."""

    rows: tuple[FormRow, ...]
    joins: tuple[FormJoin, ...]
    """Each pair of riffs once, in order of appearance; repeats of one riff are no joins."""

    @property
    def fastest(self) -> FormRow | None:
        """The riff with the most notes a second."""
        return max(self.rows, key=lambda row: row.notes_per_s, default=None)

    @property
    def hardest_join(self) -> FormJoin | None:
        """The join with the farthest jump of a hand; None where no hand jumps."""
        farthest = max(self.joins, key=lambda join: abs(join.jump_frets), default=None)
        return farthest if farthest is not None and farthest.jump_frets else None


def form_map(exercise: Exercise) -> FormMap:
    """The form of an exercise whose harmonies have been computed."""
    rows: list[FormRow] = []
    order: list[Riff] = []
    for riff in exercise.played:
        if order and order[-1].name == riff.name:
            last = rows[-1]
            rows[-1] = _row(riff, last.times + 1)
            continue
        rows.append(_row(riff, 1))
        order.append(riff)
    pairs = {(one.name, two.name): (one, two) for one, two in pairwise(order)}
    return FormMap(tuple(rows), tuple(_join(one, two) for one, two in pairs.values()))


def _row(riff: Riff, times: int) -> FormRow:
    seconds = riff_clock(riff).seconds(float(riff.length))
    onsets = max((sum(bool(m.notes) for bar in part.bars for m in bar) for part in riff.tabs), default=0)
    meters = tuple(dict.fromkeys(str(meter) for meter in riff.meters))
    return FormRow(
        riff.name, times, len(riff.meters), riff.key, meters, riff.tempo.target, seconds, onsets / (seconds or 1.0)
    )


def _join(one: Riff, two: Riff) -> FormJoin:
    part, jump = "", 0
    for tab in one.tabs:
        other = two.part(tab.name)
        if isinstance(other, TabPart):
            last = _fret([m for bar in reversed(tab.bars) for m in reversed(bar)])
            first = _fret([m for bar in other.bars for m in bar])
            if last is not None and first is not None and abs(first - last) > abs(jump):
                part, jump = tab.name, first - last
    degree = "" if one.key.tonic.semitone == two.key.tonic.semitone else numeral(two.key.tonic, "", one.key)
    mode = "" if one.key.mode == two.key.mode else two.key.mode
    ratio = float(two.tempo.target / one.tempo.target)
    return FormJoin(one.name, two.name, degree, mode, ratio, part, jump, bool(part) and _same_stroke(one, two, part))


def _fret(moments: Sequence[Moment]) -> int | None:
    """The lowest fretted fret of the first moment that has one."""
    for moment in moments:
        frets = [note.fret for note in moment.notes if note.fret and note.touch is Touch.FRETTED]
        if frets:
            return min(frets)
    return None


def _same_stroke(one: Riff, two: Riff, name: str) -> bool:
    before, after = one.part(name), two.part(name)
    if not isinstance(before, TabPart) or not isinstance(after, TabPart):
        return False
    last, first = strokes(before, one), strokes(after, two)
    return bool(last and first) and last[-1].direction == first[0].direction


def form_sentences(found: FormMap) -> tuple[str, ...]:
    """The form in words: its riffs, the joins at which something changes, the fastest riff and the hardest join."""
    told = []
    for number, row in enumerate(found.rows, 1):
        times = f" x{row.times}" if row.times > 1 else ""
        told.append(
            f"{number}. {row.riff}{times}: {row.bars} bar{'s' if row.bars > 1 else ''} of {' and '.join(row.meters)}, "
            f"{row.key}, {float(row.bpm):g} bpm, {row.notes_per_s:.1f} notes a second."
        )
    for join in found.joins:
        changes = _changes(join)
        if changes:
            told.append(f"From {join.before} to {join.after}: {', '.join(changes)}.")
    if found.fastest is not None and len(found.rows) > 1:
        told.append(f"The busiest riff is {found.fastest.riff}.")
    hardest = found.hardest_join
    if hardest is not None and len(found.joins) > 1:
        told.append(f"The widest jump is from {hardest.before} to {hardest.after}: practise that join by itself.")
    return tuple(told)


def _changes(join: FormJoin) -> list[str]:
    changes = [f"the home note goes to the {join.degree}"] if join.degree else []
    changes += [f"the mode to {join.mode}"] if join.mode else []
    if join.tempo_ratio != 1:
        changes.append(
            f"the tempo goes {'up' if join.tempo_ratio > 1 else 'down'} to {join.tempo_ratio:.0%} of what it was"
        )
    if join.jump_frets:
        way = "up" if join.jump_frets > 0 else "down"
        count = abs(join.jump_frets)
        stroke = ", on the same stroke again" if join.same_stroke else ""
        changes.append(f"the hand of {join.part} jumps {way} {count} fret{'s' if count > 1 else ''}{stroke}")
    return changes
