"""What a take was played to is found again in its exercise, or it is said what is no longer there."""

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from tests.playback.riffs import band, exercise
from trainer.music.exercise import Exercise
from trainer.playback.piece import Loop
from trainer.playback.played_again import Beside, PlayedTo, played_again
from trainer.playback.streams import together

KEPT: dict[str, Any] = {"riff": "Low road", "part": "guitar 1", "tempo_bpm": 60.0, "first_bar": 2, "last_bar": 3}


@pytest.fixture
def music() -> Exercise:
    return exercise(band(4))


class Recording:
    """A take of sound."""

    def __init__(self, rate: int) -> None:
        self.samples, self.rate = np.full(rate, 0.25, np.float32), rate


def nothing() -> Any:
    raise AssertionError("a take that is heard alone needs no music")


def test_it_is_the_riff_or_the_form_with_its_bars_and_tempo(music: Exercise) -> None:
    name = music.riffs[0].name
    found = PlayedTo.of(music, {**KEPT, "riff": name})
    assert (found.loop, found.part, found.passes, found.click) == (Loop(1, 2), "guitar 1", 1, None)
    assert found.share == Fraction(60) / music.riffs[0].tempo.target
    form = PlayedTo.of(music, {"form": True, "part": "guitar 1", "passes": 2, "click": "none"})
    assert (form.loop, form.share, form.passes, form.click) == (form.piece.whole, 1, 2, "")


@pytest.mark.parametrize(
    ("about", "said"),
    [
        ({"riff": "Gone"}, 'no riff "Gone" any more'),
        ({"last_bar": 9}, "4 bars now"),
        ({"first_bar": "x"}, "4 bars now"),
        ({"part": "oboe"}, 'No part is called "oboe"'),
        ({"tempo_bpm": "fast"}, "fast is no tempo"),
        ({"tempo_bpm": float("nan")}, "no tempo"),
    ],
)
def test_what_is_no_longer_there_is_told(music: Exercise, about: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        PlayedTo.of(music, {**KEPT, "riff": music.riffs[0].name, **about})


def test_a_take_alone_is_its_own_sound_on_both_sides() -> None:
    sounds, rate = played_again(Recording(44_100), Beside.NOTHING, nothing, nothing)
    heard = np.concatenate(list(sounds))
    assert rate == 44_100
    assert heard.shape == (44_100, 2)
    assert (heard == 0.25).all()


def test_a_rate_that_cannot_be_played_is_told() -> None:
    with pytest.raises(ValueError, match="8000 Hz"):
        played_again(Recording(8_000), Beside.NOTHING, nothing, nothing)


@pytest.mark.parametrize("late", [0, 3, 5_000, -3, -5_000])
def test_the_second_stream_begins_so_many_frames_after_the_first_or_before_it(late: int) -> None:
    one, two = (np.full((9_000, 2), level, np.float32) for level in (0.25, 0.5))
    heard = np.concatenate(list(together(iter([one[:100], one[100:]]), iter([two]), late)))[:, 0]
    first, second = max(0, -late), max(0, late)
    assert (heard[first : first + 9_000] >= 0.25).all()
    assert heard[second] == (0.75 if not late else 0.75 if second else 0.5)
    assert (heard[max(first, second) : min(first, second) + 9_000] == 0.75).all()
    assert np.flatnonzero(heard)[-1] == max(first, second) + 8_999
