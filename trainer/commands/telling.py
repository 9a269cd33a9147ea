"""How a verdict is written on the terminal: the sentences, the figures with their intervals, and what to do next."""

from typing import Any

from trainer.commands.terminal import say, table
from trainer.listening.estimate import Estimate
from trainer.listening.judging import Judgement
from trainer.practice.verdict import Outcome, Verdict

UNKNOWN = "not known: the take's start was estimated, not calibrated"


def tell(judgement: Judgement, title: str) -> None:
    """The verdict, at most three sentences, the figures, what is a habit, what may have spoilt it, and what is next."""
    verdict = judgement.verdict
    say(f"{title}: {verdict.outcome}", strong=verdict.outcome is not Outcome.CLEAN)
    for reason in verdict.reasons:
        say(f"  {reason.sentence}")
    for line in table(figures(judgement)):
        say(f"  {line}")
    for sentence in (judgement.habit, *judgement.warnings, judgement.action.sentence if judgement.action else ""):
        if sentence:
            say(f"  {sentence}")


def figures(judgement: Judgement) -> list[tuple[str, str]]:
    """The figures as rows; none where nothing was measured."""
    measured, timing = judgement.verdict.measured, judgement.timing
    if measured is None:
        return []
    rows = []
    if timing is not None:
        bias = _signed(timing.bias, "behind the click", "ahead of the click") if timing.bias_known else UNKNOWN
        rows += [("bias", bias), ("spread", f"{timing.spread_ms:.1f} ms")]
        rows.append(("drift", _signed(timing.drift, "later at the end", "earlier at the end")))
        if timing.gallop:
            gallop = timing.gallop
            interval = f"({gallop.low:.2f} to {gallop.high:.2f}; {timing.gallop_written:g} is written)"
            rows.append(("gallop", f"long to short {gallop.value:.2f} {interval}"))
    extra = "" if all(item.certain for item in judgement.performance.extras) else "possibly "  # type: ignore[union-attr]
    counts = f"{measured.matched} of {measured.notes} heard, {measured.wrong} at another pitch"
    rows.append(("strokes", f"{counts}, {extra}{measured.extra} extra"))
    return rows


def _signed(figure: Estimate, over: str, under: str) -> str:
    """A figure in milliseconds with its interval and the way it points."""
    way = over if figure.value >= 0 else under
    low, high = sorted((figure.low, figure.high), key=abs)
    if figure.low < 0 < figure.high:
        return f"{abs(figure.value):.1f} ms {way} ({figure.low:+.1f} to {figure.high:+.1f})"
    return f"{abs(figure.value):.1f} ms {way} ({abs(low):.1f} to {abs(high):.1f})"


def sentences(verdict: Verdict) -> list[str]:
    """The reasons as they were said."""
    return [reason.sentence for reason in verdict.reasons]


def plain(judgement: Judgement, **about: Any) -> dict[str, Any]:
    """A judgement for JSON, with what it is about before it."""
    from trainer.listening.judgement_json import judgement_as_json

    return {**about, **judgement_as_json(judgement)}
