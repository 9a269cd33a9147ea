"""The card on one duplex clock: the louder input is the guitar's, and a measured round trip holds until frames drop."""

from fractions import Fraction
from math import isinf
from typing import Any

import numpy as np
import pytest

from trainer.listening.calibration import RoundTrip
from trainer.listening.sound import Sound
from trainer.session.duplex_card import AHEAD_S, BOTH, RIGHT, DuplexCard, DuplexInput
from trainer.session.latency import CalibratedLatency, allowing_for_dropouts, heard_at

RATE = 48_000


class Stream:
    """A stream of two inputs of which so many frames have come in."""

    rate, channels, overruns, vanished, told_ms = RATE, 2, 0, False, 30.0

    def __init__(self, left: float, right: float) -> None:
        self.levels, self.frames = (left, right), RATE

    def heard(self, first: int, last: int) -> tuple[Sound, ...]:
        return tuple(Sound(np.full(last - first, level, np.float32), RATE) for level in self.levels)

    def forget(self, frame: int) -> None:
        pass


def heard(stream: Any, side: str | None = None) -> tuple[float, int]:
    """The level of what is heard, and the number of the input."""
    source = DuplexInput(stream, "card", side)
    assert source.reach() == 1.0
    return float(source.between(0.5, 0.6).samples[0]), source.number


def test_the_louder_input_is_the_guitars_unless_one_is_named() -> None:
    assert heard(Stream(0.01, 0.5)) == (0.5, 2)
    assert heard(Stream(0.3, 0.5)) == (pytest.approx(0.3), 1)  # not so much louder
    assert heard(Stream(0.5, 0.25), RIGHT) == (0.25, 2)
    assert heard(Stream(0.5, 0.25), BOTH) == (0.375, 0)


def test_the_level_is_that_of_the_input_that_is_heard() -> None:
    stream: Any = Stream(0.001, 0.5)
    source = DuplexInput(stream, "card", None)
    assert source.level().peak_db == pytest.approx(-6.0, abs=0.1)
    stream.vanished = True
    assert "no longer there" in source.gone


class Silence:
    """A synth that renders nothing."""

    rate = RATE

    def now(self) -> int:
        return 3 * RATE

    def render(self, frames: int) -> Any:
        return np.zeros((frames, 2), np.float32)

    def close(self) -> None:
        pass


def test_a_frame_is_heard_where_it_is_played_and_a_dropout_unsettles_what_was_measured(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("trainer.session.duplex_card.inputs_of", lambda _: 2)
    synth: Any = Silence()
    card = DuplexCard(synth, output="out", source="in", side=None, trip=RoundTrip("out", "in", RATE, 41.0, 0.5))
    sounding = card.sounding
    assert heard_at(sounding, Fraction(2 * RATE), 99.0) == pytest.approx(2.0)
    assert sounding.sink.now() / RATE - sounding.latency_seconds == pytest.approx(3 - AHEAD_S)
    known = card.latency(card.input, sounding)
    assert known == CalibratedLatency(0.041, 0.5)
    assert allowing_for_dropouts(known, sounding, Fraction(0), Fraction(RATE)) == known
    monkeypatch.setattr(type(card.stream), "overruns", 1)
    assert isinf(card.sink.stood_still(0, 1))
    assert allowing_for_dropouts(known, sounding, Fraction(0), Fraction(RATE)) is None
