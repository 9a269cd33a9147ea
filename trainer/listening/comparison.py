"""A take beside an earlier one of the same part: what grew tighter, what is still missed."""

from trainer.practice.verdict import Measured, Verdict

NOTICED = 0.15
"""Share by which a spread must change to be worth a sentence; those of fifty strokes differ by a tenth by chance."""


def beside_earlier(earlier: Verdict, now: Verdict) -> tuple[str, ...]:
    """What changed from one verdict to a later one, as sentences; empty where one of them was not measured."""
    before, after = earlier.measured, now.measured
    if before is None or after is None:
        return ()
    told = [_spread(before, after), _gallop(before, after)]
    told += [
        _count(getattr(before, name), getattr(after, name), words)
        for name, words in (("missed", "missed notes"), ("wrong", "wrong notes"))
    ]
    return tuple(sentence for sentence in told if sentence) or ("Much as before.",)


def _spread(before: Measured, after: Measured) -> str:
    if before.spread_ms is None or after.spread_ms is None or not before.spread_ms:
        return ""
    change = after.spread_ms / before.spread_ms - 1
    if abs(change) < NOTICED:
        return ""
    way = "Tighter" if change < 0 else "Looser"
    return f"{way} than before: the strokes scatter by {after.spread_ms:.0f} ms, {before.spread_ms:.0f} ms then."


def _gallop(before: Measured, after: Measured) -> str:
    """Told only when the intervals do not meet."""
    ends = (before.gallop_low, before.gallop_high, after.gallop_low, after.gallop_high)
    if any(end is None for end in ends) or before.gallop_ratio is None or after.gallop_ratio is None:
        return ""
    old_low, old_high, new_low, new_high = (end or 0.0 for end in ends)
    if old_low <= new_high and new_low <= old_high:
        return ""
    nearer = abs(after.gallop_ratio - 2) < abs(before.gallop_ratio - 2)
    way = "nearer to" if nearer else "farther from"
    return (
        f"The gallop is {way} what is written: long to short {after.gallop_ratio:.2f}, {before.gallop_ratio:.2f} then."
    )


def _count(before: int, after: int, words: str) -> str:
    if before == after:
        return ""
    return f"{'Fewer' if after < before else 'More'} {words}: {after}, {before} then."


def figures_beside(earlier: Verdict, now: Verdict) -> tuple[tuple[str, str, str], ...]:
    """The figures of two verdicts side by side: what each is, then, now."""
    rows = [("verdict", str(earlier.outcome), str(now.outcome))]
    rows += [(label, _figure(earlier, name, form), _figure(now, name, form)) for label, name, form in FIGURES]
    return tuple(rows)


def _figure(verdict: Verdict, name: str, form: str) -> str:
    value = None if verdict.measured is None else getattr(verdict.measured, name)
    return "-" if value is None else form.format(value)


FIGURES = (
    ("bias", "bias_ms", "{:+.1f} ms"),
    ("spread", "spread_ms", "{:.1f} ms"),
    ("gallop", "gallop_ratio", "{:.2f}"),
    ("missed", "missed", "{}"),
    ("wrong", "wrong", "{}"),
)
"""What each figure is called, where it stands in `Measured`, and how it is written."""
