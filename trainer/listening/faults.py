"""What is wrong with a take, as facts in the order of what to fix first, each with the sentence that says it.

A fault is named only when the figures leave no doubt: an interval that lies wholly beyond the band's edge, widened for
the number of claims that were looked at. Palm mutes and bends are not graded. A steady bias is a habit, not a fault.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from trainer.listening.bands import Bands
from trainer.listening.estimate import Estimate, centre
from trainer.listening.performance import Extra, Performance, PlayedStroke
from trainer.listening.timing import Group, Stray, Timing
from trainer.listening.written import Figure, Stroke, Written
from trainer.practice.verdict import Reason

NAMES: tuple[str, ...] = ("C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B")
NUMBERS: tuple[str, ...] = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
SHIFTS = {
    1: "one fret high", -1: "one fret low", 2: "two frets high", -2: "two frets low", 3: "three frets high",
    -3: "three frets low", 4: "four frets high", -4: "four frets low", 5: "one string over (a fourth high)",
    -5: "one string over (a fourth low)", 7: "a fifth high", -7: "a fifth low", 12: "an octave high",
    -12: "an octave low",
}  # fmt: skip
"""What a wrong position is called, by the semitones it is off."""
OWNERS = {"figure": "The gallop's ", "pick": "Every ", "shift": "The stroke at a ", "string change": "The stroke at a "}
"""How a sentence about a group begins."""
FLAT_RATIO, STEEP_RATIO = 1.8, 2.25
"""Long to short of a gallop beyond which it is called flattened or stretched; 2.0 is written."""
SURE_STEP = 3.5
"""Standard errors by which the strokes from a bar on must differ from those before."""
SURE_EXTRA = 0.42
"""Onset strength, as a share of a typical stroke, from which a possible extra is worth a sentence."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing to fix."""

    kind: str
    """`missed`, `wrong`, `stray`, `place`, `gallop`, `loose`, `drift`, `extra`."""
    reason: Reason
    bars: tuple[int, int]
    """First and last bar to practise for it."""
    fails: bool
    """Whether a pass with it is no longer clean."""


def number(count: int) -> str:
    """A count in words up to twelve."""
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def pitch_name(pitch: int) -> str:
    """A MIDI pitch as players say it, with its octave: `F sharp 2`."""
    return f"{NAMES[pitch % 12]} {pitch // 12 - 1}"


def stroke_name(stroke: Stroke) -> str:
    """What a sentence calls a stroke besides its place: its part of the gallop, or how it is picked."""
    if stroke.figure is not Figure.NONE:
        return str(stroke.figure.value)
    return "slur" if stroke.slurred else (f"{stroke.pick} stroke" if stroke.pick else "stroke")


def find_faults(performance: Performance, timing: Timing | None, bands: Bands, confidence: float) -> tuple[Fault, ...]:
    """All faults of a take, what to fix first standing first."""
    found = [*_missed(performance), *_wrong(performance)]
    if timing is not None:
        strays, places = list(_strays(timing)), list(_places(timing, bands, confidence))
        covered = {id(item) for _, group in places for item in group.strokes}
        lone = [stray for stray in strays if not all(id(item) in covered for item in stray.strokes)]
        found += list(_stray_faults(lone, timing, bands))
        found += [fault for fault, _ in places[:1]]
        if not any(group.kind == "figure" for _, group in places[:1]):
            found += _gallop(timing, performance)
        found += [*_loose(timing, bands), *_drift(timing, performance, bands)]
    return (*found, *_extras(performance))


def _reason(sentence: str, stroke: Stroke) -> Reason:
    return Reason(sentence, stroke.bar, stroke.count, stroke_name(stroke))


def _by_bar(items: Iterable[PlayedStroke]) -> list[list[PlayedStroke]]:
    """Items by the bar they stand in, the fullest bar first."""
    bars: dict[int, list[PlayedStroke]] = {}
    for item in items:
        bars.setdefault(item.stroke.bar, []).append(item)
    return sorted(bars.values(), key=lambda members: (-len(members), members[0].stroke.bar))


def _missed(performance: Performance) -> Iterable[Fault]:
    missing = [item for item in performance.judged if item.missed]
    bars = _by_bar(missing)
    if bars:
        members, others = bars[0], len(missing) - len(bars[0])
        first = members[0].stroke
        lost = f"lost its {stroke_name(first)} on {first.count}" if first.count else f"lost a {stroke_name(first)}"
        if len(members) > 1:
            lost = (
                f"lost {number(len(members))} notes, the first ({stroke_name(first)}) on {first.count or 'its start'}"
            )
        rest = f", and {number(others)} more {'is' if others == 1 else 'are'} missing elsewhere" if others else ""
        every = [item.stroke.bar for item in missing]
        yield Fault("missed", _reason(f"Bar {first.bar} {lost}{rest}.", first), (min(every), max(every)), fails=True)


def _wrong(performance: Performance) -> Iterable[Fault]:
    wrong = [item for item in performance.judged if item.wrong]
    bars = _by_bar(wrong)
    if bars:
        members, others = bars[0], len(wrong) - len(bars[0])
        item = members[0]
        stroke = item.stroke
        more = len(members) - 1 + others
        rest = f", and {number(more)} more {'note is' if more == 1 else 'notes are'} wrong" if more else ""
        what = what_instead(performance.written, item)
        sentence = f"{stroke.place[0].upper()}{stroke.place[1:]}: the {stroke_name(stroke)} is {what}{rest}."
        every = [other.stroke.bar for other in wrong]
        yield Fault("wrong", _reason(sentence, stroke), (min(every), max(every)), fails=True)


def what_instead(written: Written, item: PlayedStroke) -> str:
    """What was played instead of a written stroke, as a plain wrong position if it is one."""
    stroke = item.stroke
    if item.missing and not item.shift:
        return "without its " + " and ".join(pitch_name(pitch) for pitch in item.missing)
    if item.missing and len(item.missing) < len(stroke.pitches):
        inside = SHIFTS.get(item.shift or 0, "another note")
        return f"not the written chord: its {pitch_name(item.missing[0])} is {inside}"
    played = tuple(pitch + (item.shift or 0) for pitch in stroke.pitches)
    for name, strokes in written.others:
        sounding = next((other for other in reversed(strokes) if other.at <= stroke.at), None)
        if sounding and sounding.pitches == played:
            return f"{name}'s line"
    return SHIFTS.get(item.shift or 0, f"{pitch_name(played[0])} instead of {pitch_name(stroke.pitches[0])}")


def _strays(timing: Timing) -> Iterable[Stray]:
    """Strokes off by themselves beyond the fair band."""
    return (unit for unit in timing.units if unit.band >= 3)


def _lateness(value: float) -> str:
    return f"{abs(value):.0f} ms {'late' if value > 0 else 'early'}"


def _stray_faults(strays: list[Stray], timing: Timing, bands: Bands) -> Iterable[Fault]:
    if strays and len(strays) > bands.stray_share * len(timing.units):
        worst = max(strays, key=lambda stray: abs(stray.late_ms))
        stroke = worst.strokes[0].stroke
        many = len(strays) - 1
        rest = f", and {number(many)} more {'is' if many == 1 else 'are'} as far off" if many else ""
        name = stroke_name(stroke) if len(worst.strokes) == 1 else "group of strokes"
        sentence = f"{stroke.place[0].upper()}{stroke.place[1:]}: the {name} is {_lateness(worst.late_ms)}{rest}."
        yield Fault("stray", _reason(sentence, stroke), (stroke.bar, stroke.bar), fails=True)


def _places(timing: Timing, bands: Bands, confidence: float) -> list[tuple[Fault, Group]]:
    """Groups that are off as a whole, or from a bar on; what a place in the figure explains needs no pick."""
    found = []
    for group in timing.groups:
        edge = bands.noticed(median(float(item.stroke.length) for item in group.strokes))
        since = _since(group, edge) if group.kind != "bar" else group.strokes[0].stroke.bar
        late = group.since(since, confidence)
        if late.beyond(edge):
            found.append((_place(group, late, since, bands), group))
    order = {"figure": 0, "shift": 1, "string change": 2, "pick": 3, "bar": 4}
    explained = [pair for pair in found if pair[1].kind != "bar"] or found
    return sorted(explained, key=lambda pair: (order[pair[1].kind], -abs(pair[1].late.value)))


def _place(group: Group, late: Estimate, since: int, bands: Bands) -> Fault:
    first = group.strokes[0].stroke
    bars = sorted({item.stroke.bar for item in group.strokes})
    stroke = next(item.stroke for item in group.strokes if item.stroke.bar >= since)
    told = _lateness(late.value)
    if group.kind == "bar":
        sentence = f"Bar {first.bar} as a whole is {told}, from count {first.count} on."
    else:
        begin = f"from bar {since} on" if since > bars[0] else "throughout"
        sentence = f"{OWNERS[group.kind]}{group.name} is {told} {begin}, as at bar {stroke.bar}, count {stroke.count}."
    reason = Reason(sentence, stroke.bar, stroke.count, group.name)
    return Fault("place", reason, (since, bars[-1]), fails=late.beyond(bands.good_ms))


def _since(group: Group, edge: float) -> int:
    """The bar from which a group is off: the first, unless a later one parts it into two that plainly differ."""
    bars = sorted({item.stroke.bar for item in group.strokes})
    best, gain = bars[0], 0.0
    for bar in bars[1:]:
        before, after = group.before_bar(bar), group.from_bar(bar)
        if len(before) < 3 or len(after) < 3:
            continue
        step = abs(centre(after)) - abs(centre(before))
        sure = SURE_STEP * group.noise_ms * (1 / len(before) + 1 / len(after)) ** 0.5
        if step > max(sure, edge) and step / sure > gain:
            best, gain = bar, step / sure
    return best


def _gallop(timing: Timing, performance: Performance) -> Iterable[Fault]:
    ratio = timing.gallop
    if ratio is None or (ratio.high >= FLAT_RATIO and ratio.low <= STEEP_RATIO):
        return
    stroke = next(item.stroke for item in performance.judged if item.stroke.figure is not Figure.NONE)
    what = "flattens" if ratio.value < 2 else "is stretched"
    sentence = (
        f"The gallop {what}: long to short is {ratio.value:.2f}, written 2.00, from bar {stroke.bar}, "
        f"count {stroke.count} on; mind the eighth."
    )
    yield Fault("gallop", _reason(sentence, stroke), (stroke.bar, performance.written.bars), fails=True)


def _loose(timing: Timing, bands: Bands) -> Iterable[Fault]:
    if timing.spread_ms <= bands.clean_spread_ms:
        return
    bars = [group for group in timing.groups if group.kind == "bar"]
    worst = max(bars, key=lambda group: group.spread_ms, default=None)
    strokes = worst.strokes if worst else timing.units[0].strokes
    stroke = strokes[0].stroke
    where = f"most in bar {stroke.bar}, from count {stroke.count} on" if worst else f"from bar {stroke.bar} on"
    sentence = f"The strokes scatter by {timing.spread_ms:.0f} ms, {where}."
    yield Fault("loose", _reason(sentence, stroke), (stroke.bar, stroke.bar), fails=True)


def _drift(timing: Timing, performance: Performance, bands: Bands) -> Iterable[Fault]:
    if not timing.drift.beyond(bands.good_ms):
        return
    last = performance.judged[-1].stroke
    way = "fall behind" if timing.drift.value > 0 else "run ahead"
    first = performance.judged[0].stroke
    sentence = (
        f"You {way}: {abs(timing.drift.value):.0f} ms from bar {first.bar} to the {stroke_name(last)} "
        f"on count {last.count} of bar {last.bar}."
    )
    yield Fault("drift", _reason(sentence, last), (first.bar, last.bar), fails=timing.drift.beyond(bands.poor_ms))


def _extras(performance: Performance) -> Iterable[Fault]:
    extras = [extra for extra in performance.extras if extra.certain or extra.strength >= SURE_EXTRA]
    if not extras:
        return
    extra: Extra = extras[0]
    stroke, many = extra.near, len(extras) - 1
    rest = f", and {number(many)} more elsewhere" if many else ""
    what = "a double of" if extra.doubled else f"a note too many ({pitch_name(extra.pitch)}) after"
    may = "" if extra.certain else "Possibly "
    sentence = f"{may}{what} the {stroke_name(stroke)} at {stroke.place}{rest}."
    sentence = sentence[0].upper() + sentence[1:]
    yield Fault("extra", _reason(sentence, stroke), (stroke.bar, stroke.bar), fails=extra.certain)
