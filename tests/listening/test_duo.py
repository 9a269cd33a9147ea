"""Two guitars: who leads, how tightly, and which interval came out as another."""

from dataclasses import replace

import numpy as np
import pytest

from tests.listening.plucked import line, player, record
from trainer.listening.duo import compare
from trainer.listening.hearing import hear
from trainer.listening.performance import Performance, performed

LOW = (57, 59, 60, 62, 64, 62, 60, 59) * 4
HIGH = tuple(pitch + 4 for pitch in LOW)


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


def test_who_corrects_is_found() -> None:
    written = line(LOW, 110)
    rng = np.random.default_rng(4)
    first, second = player(written, 0.8, 0.0), player(written, 0.8, 0.0)
    off = [0.0, 0.0]
    for k in range(len(first)):
        gap = off[1] - off[0]
        off = [off[0] + 0.6 * gap + rng.normal(0, 0.004), off[1] + rng.normal(0, 0.004)]
        first[k] = replace(first[k], at_s=first[k].at_s + off[0])
        second[k] = replace(second[k], at_s=second[k].at_s + off[1])
    takes = [performed(hear(record(notes, 12, seed=k), written), written) for k, notes in enumerate((first, second))]
    duo = compare(*takes)
    assert duo is not None
    assert duo.correction[0] > duo.correction[1] + 0.2
