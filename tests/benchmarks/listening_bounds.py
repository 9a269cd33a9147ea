"""What the listening room must reach on recorded takes, and whether a result reaches it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.listening.truth import Agreement, precision, recall


@dataclass(frozen=True)
class Bound:
    """One figure and where it must lie."""

    name: str
    figure: Callable[[Agreement], float]
    edge: float
    least: bool = True
    """Whether the edge is the least, else the most."""
    many: Callable[[Agreement], int] = lambda result: 1
    """How many there are to count; of none the figure says nothing."""

    def line(self, result: Agreement) -> str:
        """The figure, its bound, and whether it holds."""
        value, way = self.figure(result), "at least" if self.least else "at most"
        holds = value >= self.edge if self.least else value <= self.edge
        said = "holds" if holds else "FAILS"
        return (
            f"    {self.name:<24} {value:7.3f}   {way} {self.edge:<5g} {said if self.many(result) else 'none to count'}"
        )


BOUNDS = (
    Bound("F at 25 ms", lambda result: result.f_measure(25), 0.99),
    Bound("F at 10 ms", lambda result: result.f_measure(10), 0.97),
    Bound("error, median, ms", lambda result: float(np.median(result.errors_ms or [0.0])), 0.5, False),
    Bound("error, 95 %, ms", lambda result: float(np.percentile(result.errors_ms or [0.0], 95)), 7.0, False),
    Bound("bias, worst take, ms", lambda result: max(map(abs, result.biases_ms), default=0.0), 2.0, False),
    Bound("missed, precision", lambda result: precision(result.missed), 0.95, many=lambda result: result.missed[1]),
    Bound("missed, recall", lambda result: recall(result.missed), 0.85, many=lambda result: result.missed[0]),
    Bound("wrong, precision", lambda result: precision(result.wrong), 0.95, many=lambda result: result.wrong[1]),
    Bound("wrong, recall", lambda result: recall(result.wrong), 0.95, many=lambda result: result.wrong[0]),
    Bound("extra, precision", lambda result: precision(result.extra), 0.7, many=lambda result: result.extra[1]),
    Bound("extra, recall", lambda result: recall(result.extra), 0.5, many=lambda result: result.extra[0]),
    Bound(
        "noises told as notes",
        lambda result: result.ghosts[1] / max(1, result.ghosts[0]),
        0.1,
        False,
        lambda result: result.ghosts[0],
    ),
)


def against_bounds(result: Agreement) -> str:
    """Every figure with its bound, a line each."""
    return "\n".join(bound.line(result) for bound in BOUNDS)
