"""When the strokes of a take came: bias and spread apart, drift, and every group of strokes that has a habit.

Deviations are milliseconds from the written time, early below zero. The bias is the median of all; what is slow is
drift; what is left is spread. A group (the second sixteenths, the up strokes, bar 3) is compared with the rest of
the take, so that a player who is steadily early everywhere is early nowhere in particular.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt
from statistics import median

from trainer.listening.bands import Bands
from trainer.listening.estimate import Estimate, middle, quantile, robust_spread, scatter, slope
from trainer.listening.gallop import Gallop, gallop
from trainer.listening.performance import Performance, PlayedStroke
from trainer.listening.written import GallopNote

LEAST_SPREAD_MS = 1.0
"""No human is steadier; keeps the intervals of a machine's take from closing to nothing."""
LEAST_GROUP = 4
_QUARTER = Fraction(1, 4)
MOST_FOR_SLOPE = 300
"""Strokes the drift is fitted to; of a longer take every few."""


@dataclass(frozen=True, slots=True)
class Group:
    """Some strokes of a take that have something in common."""

    kind: str
    """`figure`, `pick`, `string change`, `shift`, `bar`."""
    name: str
    """As a sentence says it: `second sixteenth`, `up stroke`, `bar 3`."""
    late: Estimate
    """Milliseconds later than the rest of the take; early below zero."""
    spread_ms: float
    strokes: tuple[PlayedStroke, ...]
    off_ms: tuple[float, ...]
    """Each stroke's own deviation, without the take's bias and drift."""
    rest: Estimate
    """Where the rest of the take lies."""
    noise_ms: float
    """Spread inside groups of this kind."""

    def since(self, bar: int, confidence: float) -> Estimate:
        """How late the group's strokes from a bar on are against the rest of the take."""
        return middle(self.from_bar(bar), self.noise_ms, confidence) - self.rest

    def from_bar(self, bar: int) -> list[float]:
        """Deviations of the strokes in that bar and after."""
        return [off for off, item in zip(self.off_ms, self.strokes, strict=True) if item.stroke.bar >= bar]

    def within(self, first: int, last: int) -> list[float]:
        """Deviations of the strokes from one bar to another, both included."""
        return [off for off, item in zip(self.off_ms, self.strokes, strict=True) if first <= item.stroke.bar <= last]


@dataclass(frozen=True, slots=True)
class Stray:
    """One stroke, or a group too fast to be judged singly, that is off by itself."""

    strokes: tuple[PlayedStroke, ...]
    late_ms: float
    """From where the take's own bias and drift put it."""
    band: int
    """As `Bands.band`."""


@dataclass(frozen=True, slots=True)
class Timing:
    """The timing of a take."""

    bias: Estimate
    """Milliseconds; tells nothing where the take's start is not known."""
    bias_known: bool
    spread: Estimate
    """Robust standard deviation in milliseconds, without bias and drift, around the places of the figure."""
    drift: Estimate
    """Milliseconds gained from the first stroke to the last; late above zero."""
    gallop: Estimate | None
    """Long to short of the gallop; None without three whole figures."""
    gallop_figures: Gallop | None
    """The same figure by figure."""
    groups: tuple[Group, ...]
    units: tuple[Stray, ...]
    """Every stroke or fast group with its own deviation, in time order."""

    @property
    def spread_ms(self) -> float:
        """The spread without its interval."""
        return self.spread.value

    @property
    def gallop_written(self) -> float:
        """Long to short as written: 2.0, and 4.0 in triplet time."""
        return self.gallop_figures.written if self.gallop_figures else 2.0

    @property
    def gallop_of_two(self) -> Estimate | None:
        """The gallop's ratio as a share of what is written, times two: 2.0 is as written in every kind of gallop."""
        told, share = self.gallop, 2 / self.gallop_written
        return told and Estimate(told.value * share, told.low * share, told.high * share, told.count)

    def group(self, name: str) -> Group | None:
        """The group of that name."""
        return next((group for group in self.groups if group.name == name), None)


def timing(performance: Performance, bands: Bands, confidence: float = 0.95) -> Timing | None:
    """The timing of a take, or None with fewer than four strokes heard."""
    played = [item for item in performance.strokes if item.deviation_ms is not None]
    if len(played) < LEAST_GROUP:
        return None
    at = [float(item.stroke.at) for item in played]
    off = [item.deviation_ms or 0.0 for item in played]
    step = -(-len(at) // MOST_FOR_SLOPE)
    gradient = slope(at[::step], off[::step])
    centre = (at[0] + at[-1]) / 2
    level = median(value - gradient * (time - centre) for value, time in zip(off, at, strict=True))
    rest = [value - level - gradient * (time - centre) for value, time in zip(off, at, strict=True)]
    spread = max(robust_spread(rest), LEAST_SPREAD_MS)
    length = at[-1] - at[0]
    half = quantile(confidence, len(at)) * 1.05 * spread * sqrt(12 / len(at))
    drift = Estimate(gradient * length, gradient * length - half, gradient * length + half, len(at))
    residual = {id(item): value for item, value in zip(played, rest, strict=True)}
    own_spread = _spread(rest, played, confidence)
    figures = gallop(performance.strokes, own_spread.value)
    return Timing(
        bias=middle(off, spread, confidence),
        bias_known=performance.start_known,
        spread=own_spread,
        drift=drift,
        gallop=figures.ratio(confidence) if figures else None,
        gallop_figures=figures,
        groups=tuple(_groups(played, residual, confidence)),
        units=tuple(_units(performance, residual, bands)),
    )


def around_figures(values: Iterable[float], played: Sequence[PlayedStroke]) -> list[float]:
    """Deviations with the middle of each place in the figure taken out: what no habit of the figure explains."""
    places: dict[GallopNote, list[float]] = {}
    of_stroke = list(zip(values, played, strict=True))
    for value, item in of_stroke:
        places.setdefault(item.stroke.figure, []).append(value)
    centres = {
        figure: median(members) if len(members) >= LEAST_GROUP and len(places) > 1 else 0.0
        for figure, members in places.items()
    }
    return [value - centres[item.stroke.figure] for value, item in of_stroke]


def _spread(rest: Sequence[float], played: Sequence[PlayedStroke], confidence: float) -> Estimate:
    told = scatter(around_figures(rest, played), confidence)
    least = LEAST_SPREAD_MS
    return Estimate(max(told.value, least), max(told.low, least), max(told.high, least), told.count)


_KINDS: tuple[tuple[str, Callable[[PlayedStroke], str]], ...] = (
    ("figure", lambda item: item.stroke.figure.value),
    ("pick", lambda item: f"{item.stroke.pick} stroke" if item.stroke.pick else ""),
    ("string change", lambda item: "string change" if item.stroke.string_change else ""),
    ("shift", lambda item: "position shift" if item.stroke.shift else ""),
    ("bar", lambda item: f"bar {item.stroke.bar}"),
)
"""What strokes can have in common, in the order in which a sentence prefers it."""


def _groups(played: list[PlayedStroke], residual: dict[int, float], confidence: float) -> Iterable[Group]:
    """Every group of at least four strokes that is not the whole take, against the rest.

    What their places in the figure explain is taken out before strokes are grouped in another way.
    """
    heard = [residual[id(item)] for item in played]
    unexplained = dict(zip(map(id, played), around_figures(heard, played), strict=True))
    for kind, name_of in _KINDS:
        residual = residual if kind == "figure" else unexplained
        names: dict[str, list[PlayedStroke]] = {}
        for item in played:
            names.setdefault(name_of(item), []).append(item)
        placed = [(name, [residual[id(member)] for member in members]) for name, members in names.items()]
        centres = {name: median(values) for name, values in placed}
        noise = max(
            robust_spread([value - centres[name] for name, values in placed for value in values]), LEAST_SPREAD_MS
        )
        for name, members in names.items():
            own = [residual[id(item)] for item in members]
            others = [value for other, values in placed if other != name for value in values]
            if name and len(members) >= LEAST_GROUP and len(others) >= LEAST_GROUP:
                rest = middle(others, noise, confidence)
                late = middle(own, noise, confidence) - rest
                yield Group(kind, name, late, robust_spread(own), tuple(members), tuple(own), rest, noise)


def _units(performance: Performance, residual: dict[int, float], bands: Bands) -> Iterable[Stray]:
    """Strokes one by one, those beyond the synchronisation limit by group inside one quarter note.

    A stroke of such a group that is out of its place altogether still stands alone.
    """
    strokes = performance.strokes
    pending: list[PlayedStroke] = []

    def told() -> Iterable[Stray]:
        heard = [item for item in pending if not item.missed]
        wild = [item for item in heard if len(heard) > 1 and abs(residual[id(item)]) > bands.poor_ms]
        yield from (Stray((item,), residual[id(item)], 4) for item in wild)
        heard = [item for item in heard if item not in wild]
        if heard:
            late = median(residual[id(item)] for item in heard)
            between = float(min(item.stroke.length for item in heard))
            yield Stray(tuple(heard), late, bands.band(late, between))

    for item in strokes:
        if pending:
            before = pending[-1].stroke
            close = float(item.stroke.at - before.at) < bands.group_s
            if not close or item.stroke.offset // _QUARTER != before.offset // _QUARTER:
                yield from told()
                pending = []
        pending.append(item)
    yield from told()
