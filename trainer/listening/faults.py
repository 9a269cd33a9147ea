"""What is wrong with a take, as facts in the order of what to fix first, each with the sentence that says it.

What recurs comes first: four flattened gallops outweigh one late stroke (`by_weight`).
A fault is named only when the figures leave no doubt: an interval that lies wholly beyond the band's edge, widened for
the number of claims that were looked at. Palm mutes and bends are not graded. A steady bias is a habit, not a fault.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import log
from statistics import median

from trainer.listening.bands import Bands
from trainer.listening.estimate import Estimate, centre, step_from
from trainer.listening.gallop import Gallop
from trainer.listening.performance import Extra, Performance, PlayedStroke
from trainer.listening.timing import Group, Stray, Timing
from trainer.listening.wording import capital, lateness, number, pitch_name, stroke_name, what_instead
from trainer.listening.written import WrittenStroke
from trainer.practice.verdict import Reason

OWNERS = {"figure": "The gallop's ", "pick": "Every ", "shift": "The stroke at a ", "string change": "The stroke at a "}
"""How a sentence about a group begins."""
FLAT_RATIO, STEEP_RATIO = 1.8, 2.25
"""Long to short of a gallop beyond which it is called flattened or stretched; 2.0 is written."""
LEAST_RUN = 4
"""So many notes in a row that are wrong in one way are one thing: the hand lies wrong."""
LEAST_IN_BAR = 2
"""Figures in one bar from which that bar is judged by itself."""
LAST_BAR = 1_000_000
"""A bar that no riff reaches: up to the end."""
DOWN = "down stroke"
FAR = 3
"""The band, as `Bands.band` counts, from which a single stroke is told."""
SURE_EXTRA = 0.31
"""Onset strength, as a share of a typical stroke, from which a possible extra is worth a sentence."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing to fix."""

    kind: str
    """`silent`, `missed`, `wrong`, `stray`, `place`, `gallop`, `loose`, `drift`, `extra`."""
    reason: Reason
    bars: tuple[int, int]
    """First and last bar to practise for it."""
    fails: bool
    """Whether a pass with it is no longer clean."""
    brief: str = ""
    """Place and fault in a few words, for one line: `bar 2: gallop flat (1.5, want 2.0)`."""
    strokes: int = 1
    """How many strokes have it."""


def by_weight(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Put faults into the order of what to fix first: what spoils the pass, then what most strokes have."""
    return tuple(sorted(faults, key=lambda fault: (not fault.fails, -fault.strokes)))


def find_faults(performance: Performance, timing: Timing | None, bands: Bands, confidence: float) -> tuple[Fault, ...]:
    """Find all faults of a take, kind by kind; `by_weight` puts them into the order of what to fix first."""
    found = [*_missed(performance), *_wrong(performance)]
    if timing is not None:
        gallop, claims = _figures(timing, performance, bands, confidence)
        found += _stray_faults(_strays(timing, claims, bands), timing, bands)
        places = [claim.fault for claim in claims if claim.fault][:1]
        found += gallop if any(claim.fault is None for claim in claims) else [*places, *gallop]
        found += [*_loose(timing, bands), *_drift(timing, performance, bands)]
    return (*found, *_extras(performance))


@dataclass(frozen=True, slots=True)
class _Claim:
    """A group of strokes that is off, from a bar on."""

    group: Group
    since: int
    fault: Fault | None
    """None where another fault says it."""
    until: int = LAST_BAR
    """The last bar in which it is off."""

    def covers(self, bar: int) -> bool:
        """Whether the group is off in a bar."""
        return self.since <= bar <= self.until

    @property
    def centre_ms(self) -> float:
        """Where its strokes lie while it is off, in ms; + is late."""
        return centre(self.group.within(self.since, self.until))


def _figures(
    timing: Timing, performance: Performance, bands: Bands, confidence: float
) -> tuple[list[Fault], list[_Claim]]:
    """What the gallop's ratio says, and the groups that are off; each thing is told once.

    A gallop that flattens moves both of its short notes; where that explains them better than one place alone being
    off, it is told, and the places are not.
    """
    claims = _places(timing, bands, confidence)
    broken = _gallop(timing, performance, confidence)
    single = [claim for claim in claims if claim.group.kind == "figure"]
    if broken is None or (single and not _evenly(timing, broken)):
        return [], claims
    figures = [group for group in timing.groups if group.kind == "figure" and group.strokes[0].stroke.figure.value]
    told = [
        _Claim(group, broken.since, None, broken.until) for group in figures if group.within(broken.since, broken.until)
    ]
    others = [claim for claim in claims if claim.group.kind != "figure" and not broken.explains(claim)]
    return [broken.fault], [*told, *others]


@dataclass(frozen=True, slots=True)
class _Broken:
    """A gallop that is not as written, in some bars."""

    since: int
    until: int
    fault: Fault

    def explains(self, claim: _Claim) -> bool:
        """Whether a bar seems off as a whole only because its gallops are."""
        return claim.group.kind == "bar" and self.since <= claim.since <= self.until


def _evenly(timing: Timing, broken: _Broken) -> bool:
    """Whether both short notes are moved as a flattened or stretched gallop moves them, the first twice as far."""
    places: dict[str, float] = {}
    for group in timing.groups:
        figure = group.strokes[0].stroke.figure
        role = "long" if figure.is_long else "first" if figure.is_first else "second" if figure.is_second else ""
        if group.kind == "figure" and role and (off := group.within(broken.since, broken.until)):
            places[role] = centre(off)
    if len(places) < 3:
        return True
    one, two = (places[role] - places["long"] for role in ("first", "second"))
    return abs(two - one / 2) <= min(abs(two), abs(one), abs(one - two))


def _reason(sentence: str, stroke: WrittenStroke) -> Reason:
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
        count = f", {first.count}" if first.count and len(members) == 1 else ""
        what = f"{len(members)} notes lost" if len(members) > 1 else f"{stroke_name(first)} lost"
        brief = f"bar {first.bar}{count}: {what}" + (f", {others} more elsewhere" if others else "")
        reason = _reason(f"Bar {first.bar} {lost}{rest}.", first)
        yield Fault("missed", reason, (min(every), max(every)), True, brief, len(missing))


def _wrong(performance: Performance) -> Iterable[Fault]:
    wrong = [item for item in performance.judged if item.wrong]
    if not wrong:
        return
    every = [item.stroke.bar for item in wrong]
    bars = (min(every), max(every))
    run = _longest_run(performance)
    if len(run) >= LEAST_RUN:
        stroke, what = run[0].stroke, what_instead(performance.written, run[0])
        away = f"in {what}" if what.endswith("line") else what
        rest = _more(len(wrong) - len(run))
        sentence = (
            f"From {stroke.place} ({stroke_name(stroke)}) on, {number(len(run))} notes are {away}: "
            f"look where the hand lies{rest}."
        )
        brief = f"from bar {stroke.bar}, {stroke.count} on: {len(run)} notes {away}"
    else:
        item = _by_bar(wrong)[0][0]
        stroke = item.stroke
        what = what_instead(performance.written, item)
        sentence = f"{capital(stroke.place)}: the {stroke_name(stroke)} is {what}{_more(len(wrong) - 1)}."
        brief = f"{_short(stroke)}: {what}" + (f", {len(wrong) - 1} more wrong" if len(wrong) > 1 else "")
    yield Fault("wrong", _reason(sentence, stroke), bars, True, brief, len(wrong))


def _short(stroke: WrittenStroke) -> str:
    """A stroke's place in a few words: `bar 2, 3 &`."""
    return f"bar {stroke.bar}, {stroke.count}" if stroke.count else f"bar {stroke.bar}"


def _more(count: int) -> str:
    return f", and {number(count)} more {'note is' if count == 1 else 'notes are'} wrong" if count else ""


def _longest_run(performance: Performance) -> list[PlayedStroke]:
    """The longest row of strokes that are wrong in one way: a hand that lies in another place."""
    best: list[PlayedStroke] = []
    run: list[PlayedStroke] = []
    for item in performance.judged:
        same = item.wrong and not item.missing and (not run or item.shift == run[0].shift)
        run = [*run, item] if same else [item] if item.wrong and not item.missing else []
        best = run if len(run) > len(best) else best
    return best


def _strays(timing: Timing, claims: list[_Claim], bands: Bands) -> list[Stray]:
    """Strokes off by themselves beyond the fair band: from their group's place where the whole group is off."""
    expected = {
        id(item): claim.centre_ms
        for claim in reversed(claims)
        for item in claim.group.strokes
        if claim.covers(item.stroke.bar)
    }
    found = []
    for unit in timing.units:
        late = unit.late_ms - median(expected.get(id(item), 0.0) for item in unit.strokes)
        band = bands.band(late, float(min(item.stroke.length for item in unit.strokes)))
        if unit.band >= FAR and band >= FAR:
            found.append(Stray(unit.strokes, late, band))
    return found


def _stray_faults(strays: list[Stray], timing: Timing, bands: Bands) -> Iterable[Fault]:
    if strays and len(strays) > bands.stray_share * len(timing.units):
        worst = max(strays, key=lambda stray: abs(stray.late_ms))
        stroke = worst.strokes[0].stroke
        many = len(strays) - 1
        rest = f", and {number(many)} more {'is' if many == 1 else 'are'} as far off" if many else ""
        name = stroke_name(stroke) if len(worst.strokes) == 1 else "group of strokes"
        sentence = f"{capital(stroke.place)}: the {name} is {lateness(worst.late_ms)}{rest}."
        brief = f"{_short(stroke)}: {lateness(worst.late_ms)}" + (f", {many} more as far off" if many else "")
        yield Fault("stray", _reason(sentence, stroke), (stroke.bar, stroke.bar), True, brief, len(strays))


def _places(timing: Timing, bands: Bands, confidence: float) -> list[_Claim]:
    """Groups that are off as a whole, or from a bar on; what a place in the figure explains needs no pick."""
    found = []
    for group in timing.groups:
        edge = bands.noticed(median(float(item.stroke.length) for item in group.strokes))
        since = _since(group, edge) if group.kind != "bar" else group.strokes[0].stroke.bar
        late = group.since(since, confidence)
        if late.beyond(edge):
            found.append(_Claim(group, since, _place(group, late, since, bands)))
    order = {"figure": 0, "shift": 1, "string change": 2, "pick": 3, "bar": 4}
    explained = [claim for claim in found if claim.group.kind != "bar"] or found
    # Strokes are down on the beat: where down and up part, it is the up stroke that is late or early.
    return sorted(
        explained,
        key=lambda claim: (order[claim.group.kind], claim.group.name == DOWN, -abs(claim.group.late.value)),
    )


def _place(group: Group, late: Estimate, since: int, bands: Bands) -> Fault:
    first = group.strokes[0].stroke
    bars_of = sorted({item.stroke.bar for item in group.strokes})
    stroke = next(item.stroke for item in group.strokes if item.stroke.bar >= since)
    told = lateness(late.value)
    if group.kind == "bar":
        sentence = f"Bar {first.bar} as a whole is {told}, from count {first.count} on."
        brief = f"bar {first.bar}: {told} as a whole"
    else:
        begin = f"from bar {since} on" if since > bars_of[0] else "throughout"
        sentence = f"{OWNERS[group.kind]}{group.name} is {told} {begin}, as at bar {stroke.bar}, count {stroke.count}."
        brief = f"{begin}: every {group.name} {told}"
    reason = Reason(sentence, stroke.bar, stroke.count, group.name)
    return Fault("place", reason, (since, bars_of[-1]), late.beyond(bands.good_ms), brief, len(group.from_bar(since)))


def _since(group: Group, edge: float) -> int:
    """The bar from which a group is off."""
    bars = [item.stroke.bar for item in group.strokes]
    return step_from(list(zip(bars, group.off_ms, strict=True)), group.noise_ms, edge)


def _gallop(timing: Timing, performance: Performance, confidence: float) -> _Broken | None:
    """A gallop that flattens or is stretched: from a bar on, or in some bars after which it recovers."""
    figures = timing.gallop_figures
    if figures is None:
        return None
    bars = figures.by_bar(LEAST_IN_BAR, 1 - (1 - confidence) / max(1, figures.bars))
    low, high = FLAT_RATIO * figures.written / 2, STEEP_RATIO * figures.written / 2
    off = {bar: ratio for bar, ratio in bars.items() if ratio.high < low or ratio.low > high}
    since = step_from(figures.logs, figures.noise, log(2 / FLAT_RATIO))
    ratio = figures.ratio(confidence, since)
    recovers = any(bar >= since and low <= each.value <= high for bar, each in bars.items())
    if (ratio.high < low or ratio.low > high) and not (recovers and off):
        return _gallop_from(since, ratio, figures, performance)
    if not off:
        return None
    worst = max(off, key=lambda bar: (off[bar].count, -bar))
    return _gallop_in(worst, off[worst], len(off) - 1, figures, performance)


def _gallop_from(since: int, ratio: Estimate, figures: Gallop, performance: Performance) -> _Broken:
    """A gallop that is off from a bar on."""
    mine = [item.stroke for item in performance.judged if item.stroke.figure.value and item.stroke.bar >= since]
    stroke, long = mine[0], next(each for each in mine if each.figure.is_long)
    what = "flattens" if ratio.value < figures.written else "is stretched"
    later = stroke.bar > figures.logs[0][0]
    begin = f"from bar {stroke.bar}, count {stroke.count} on" if later else "throughout"
    sentence = (
        f"The gallop {what} {begin}: long to short is {ratio.value:.2f}, written {figures.written:.2f}; "
        f"mind the {stroke_name(long)}."
    )
    last = performance.written.bars
    where = "throughout" if not later else f"from bar {stroke.bar} on" if last > stroke.bar else f"bar {stroke.bar}"
    broken = sum(bar >= since for bar, _ in figures.logs)
    fault = Fault(
        "gallop", _reason(sentence, stroke), (stroke.bar, last), True, _brief_gallop(where, ratio, figures), 2 * broken
    )
    return _Broken(since, LAST_BAR, fault)


def _gallop_in(bar: int, ratio: Estimate, others: int, figures: Gallop, performance: Performance) -> _Broken:
    """A gallop that is off in a bar and recovers."""
    mine = [item.stroke for item in performance.judged if item.stroke.figure.value and item.stroke.bar == bar]
    stroke, long = mine[0], next((each for each in mine if each.figure.is_long), mine[0])
    what = "flattens" if ratio.value < figures.written else "is stretched"
    more = f", and in {number(others)} more {'bar' if others == 1 else 'bars'}" if others else ""
    sentence = (
        f"The gallop {what} in bar {bar}{more}: long to short is {ratio.value:.2f}, written {figures.written:.2f}; "
        f"mind the {stroke_name(long)}."
    )
    brief = _brief_gallop(f"bar {bar}", ratio, figures)
    return _Broken(bar, bar, Fault("gallop", _reason(sentence, stroke), (bar, bar), True, brief, 2 * ratio.count))


def _brief_gallop(where: str, ratio: Estimate, figures: Gallop) -> str:
    what = "flat" if ratio.value < figures.written else "stretched"
    return f"{where}: gallop {what} ({ratio.value:.1f}, want {figures.written:.1f})"


def _loose(timing: Timing, bands: Bands) -> Iterable[Fault]:
    if not timing.spread.beyond(bands.clean_spread_ms):
        return
    bars = [group for group in timing.groups if group.kind == "bar"]
    worst = max(bars, key=lambda group: group.spread_ms, default=None)
    strokes = worst.strokes if worst else timing.units[0].strokes
    stroke = strokes[0].stroke
    where = f"most in bar {stroke.bar}, from count {stroke.count} on" if worst else f"from bar {stroke.bar} on"
    sentence = f"The strokes scatter by {timing.spread_ms:.0f} ms, {where}."
    brief = f"{f'bar {stroke.bar}' if worst else 'throughout'}: uneven, strokes scatter by {timing.spread_ms:.0f} ms"
    off = sum(len(unit.strokes) for unit in timing.units if abs(unit.late_ms) > bands.good_ms)
    yield Fault("loose", _reason(sentence, stroke), (stroke.bar, stroke.bar), True, brief, max(1, off))


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
    falls = "falling behind" if timing.drift.value > 0 else "running ahead"
    brief = f"bars {first.bar}-{last.bar}: {falls}, {abs(timing.drift.value):.0f} ms in all"
    # Drift moves the ends of a pass by half of it each way: so many strokes leave the good band.
    share = max(0.0, 1 - 2 * bands.good_ms / abs(timing.drift.value))
    fails, strokes = timing.drift.beyond(bands.poor_ms), max(1, round(share * len(performance.judged)))
    yield Fault("drift", _reason(sentence, last), (first.bar, last.bar), fails, brief, strokes)


def _extras(performance: Performance) -> Iterable[Fault]:
    extras = [extra for extra in performance.extras if extra.certain or extra.twice or extra.strength >= SURE_EXTRA]
    if not extras:
        return
    extra: Extra = extras[0]
    stroke, many = extra.near, len(extras) - 1
    rest = f", and {number(many)} more elsewhere" if many else ""
    what = "a double of" if extra.doubled else f"an extra note ({pitch_name(extra.pitch)}) after"
    may = "" if extra.certain else "Possibly "
    sentence = capital(f"{may}{what} the {stroke_name(stroke)} at {stroke.place}{rest}.")
    brief = f"{_short(stroke)}: {may.lower()}{'struck twice' if extra.doubled else 'an extra note'}"
    brief += f", {many} more elsewhere" if many else ""
    yield Fault("extra", _reason(sentence, stroke), (stroke.bar, stroke.bar), extra.certain, brief, len(extras))
