"""Two guitars: who leads, how tightly, and which interval came out as another."""

from dataclasses import replace

import numpy as np
import pytest

from tests.listening.laid import Off, laid, nowhere
from tests.listening.plucked import line, player, record
from trainer.listening.duo import Duo, compare
from trainer.listening.hearing import hear
from trainer.listening.performance import Performance, performed

LOW = (57, 59, 60, 62, 64, 62, 60, 59) * 4
HIGH = tuple(pitch + 4 for pitch in LOW)
MANY = 100


def performances(lead_ms: float, slip: int | None = None) -> tuple[Performance, Performance]:
    parts = [line(LOW, 110), line(HIGH, 110)]
    takes = []
    for side, written in enumerate(parts):
        notes = player(written, 0.8 + side * lead_ms / 1000, jitter_ms=5, seed=side)
        if side and slip is not None:
            notes[slip] = replace(notes[slip], pitches=(notes[slip].pitches[0] - 1,))
        sound = record(notes, float(written.length) + 2, seed=side)
        takes.append(performed(hear(sound, written), written))
    return takes[0], takes[1]


@pytest.mark.parametrize("lead", [-12.0, 15.0])
def test_the_leader_is_named(lead: float) -> None:
    duo = compare(*performances(lead))
    assert duo is not None
    assert duo.lead.low < lead < duo.lead.high
    assert ("first" if lead > 0 else "second") in duo.sentences[0]
    assert 4 < duo.spread_ms < 12


def test_without_a_shared_clock_nobody_leads() -> None:
    duo = compare(*performances(15.0), shared_clock=False)
    assert duo is not None
    assert "not known" in duo.sentences[0]
    assert abs(duo.lead.value) < 2


def test_an_interval_that_came_out_otherwise_is_named() -> None:
    duo = compare(*performances(3.0, slip=12))
    assert duo is not None
    assert [(item.written, item.played) for item in duo.intervals] == [(4, 3)]
    assert "the major third above came out as minor third above" in duo.sentences[-1]


def together(
    off: tuple[Off, Off] = (nowhere, nowhere), scatter_ms: float = 5.0, seed: int = 0
) -> tuple[Performance, Performance]:
    """Two performances of 64 strokes on one clock, without sound."""
    parts = (line(LOW * 2, 110), line(HIGH * 2, 110))
    first, second = (
        laid(part, each, scatter_ms, 2 * seed + side, known=True)
        for side, (part, each) in enumerate(zip(parts, off, strict=True))
    )
    return first, second


def compared(pair: tuple[Performance, Performance]) -> Duo:
    duo = compare(*pair)
    assert duo is not None
    return duo


def following(gains: tuple[float, float], seed: int) -> tuple[Performance, Performance]:
    """Two who wander, each making good a share of the last difference."""
    rng = np.random.default_rng(seed)
    off = [np.zeros(64), np.zeros(64)]
    for k in range(1, 64):
        gap = off[1][k - 1] - off[0][k - 1]
        off[0][k] = off[0][k - 1] + gains[0] * gap + rng.normal(0, 5)
        off[1][k] = off[1][k - 1] - gains[1] * gap + rng.normal(0, 5)
    offs = tuple((lambda index, _, side=side: float(side[index])) for side in off)
    return together((offs[0], offs[1]), 0.0, seed)


def test_the_leads_interval_holds_the_truth_as_often_as_it_says() -> None:
    duos = [compared(together((nowhere, lambda *_: 8.0), seed=seed)) for seed in range(MANY)]
    assert sum(duo.lead.low < 8 < duo.lead.high for duo in duos) >= 0.92 * MANY
    assert np.mean([duo.spread_ms for duo in duos]) == pytest.approx(5 * 2**0.5, rel=0.05)


def test_two_who_follow_the_click_do_not_follow_each_other() -> None:
    duos = [compared(together(seed=seed)) for seed in range(MANY)]
    assert sum(gain.low > 0.1 for duo in duos for gain in duo.correction) <= 0.03 * MANY
    assert abs(np.mean([duo.correction[0].low + duo.correction[0].high for duo in duos]) / 2) < 0.05
    assert not any("follows" in sentence for sentence in duos[0].sentences)


def test_who_follows_whom_is_told() -> None:
    duos = [compared(following((0.6, 0.0), seed)) for seed in range(MANY)]
    assert np.mean([duo.correction[0].value for duo in duos]) == pytest.approx(0.6, abs=0.1)
    assert np.mean([duo.correction[1].value for duo in duos]) < 0.15
    told = [sentence for duo in duos for sentence in duo.sentences if "follows" in sentence]
    assert sum(sentence.startswith("The first follows the second and makes good") for sentence in told) >= 0.8 * MANY
    assert sum("second follows" in sentence for sentence in told) <= 0.05 * MANY


def test_few_strokes_do_not_tell_who_follows() -> None:
    first, second = (laid(line(part[:8], 110), known=True) for part in (LOW, HIGH))
    assert compared((first, second)).correction[0].high == float("inf")


def test_who_leads_where_is_told() -> None:
    pair = together((nowhere, lambda _, stroke: {1: 14.0, 2: 15.0, 4: -16.0}.get(stroke.bar, 0.0)))
    duo = compared(pair)
    assert [bar.leader for bar in duo.bars[:4]] == ["first", "first", "together", "second"]
    assert "The first leads in bars 1 and 2, the second leads in bar 4." in duo.sentences


def test_the_tightest_and_the_loosest_bar_are_told() -> None:
    rng = np.random.default_rng(3)
    wild = {3: 22.0, 5: 0.2}
    duo = compared(together((nowhere, lambda _, stroke: float(rng.normal(0, wild.get(stroke.bar, 9.0)))), 1.0))
    assert duo.tightest is not None
    assert duo.loosest is not None
    assert (duo.tightest.bar, duo.loosest.bar) == (5, 3)
    assert f"Tightest in bar 5 ({duo.tightest.spread_ms:.0f} ms), loosest in bar 3" in " ".join(duo.sentences)


def test_too_few_strokes_in_common_are_no_duo() -> None:
    first, second = (laid(line(part[:3], 110)) for part in (LOW, HIGH))
    assert compare(first, second) is None
