"""What a take was played to is found again in its exercise, or it is said what is no longer there."""

import json
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from tests.playback.riffs import band, exercise
from trainer.listening.sound import Sound
from trainer.listening.take_info import TakeInfo
from trainer.music.exercise import Exercise
from trainer.playback.piece import Loop
from trainer.playback.streams import together
from trainer.session.heard_pass import Passage
from trainer.session.played_again import Beside, played_again

KEPT = TakeInfo(part="guitar 1", tempo_bpm=60.0, first_bar=2, last_bar=3)


@pytest.fixture
def music() -> Exercise:
    return exercise(band(4))


def recording(rate: int) -> Sound:
    """A take of one second."""
    return Sound(np.full(rate, 0.25, np.float32), rate)


def nothing() -> Any:
    raise AssertionError("a take that is heard alone needs no music")


def test_it_is_the_riff_or_the_form_with_its_bars_and_tempo(music: Exercise) -> None:
    name = music.riffs[0].name
    found = Passage.of_take(replace(KEPT, riff=name), music)
    assert (found.loop, found.part, found.passes, found.click) == (Loop(1, 2), "guitar 1", 1, None)
    assert found.share == Fraction(60) / music.riffs[0].tempo.target
    form = Passage.of_take(TakeInfo.from_json({"form": True, "part": "guitar 1", "passes": 2, "click": "none"}), music)
    assert (form.loop, form.share, form.passes, form.click) == (form.piece.whole, 1, 2, "")


def test_a_passage_is_found_again_by_what_its_take_says(music: Exercise) -> None:
    found = Passage.of_take(replace(KEPT, riff=music.riffs[0].name, click="beats"), music)
    again = Passage.of_take(TakeInfo.from_json(json.loads(json.dumps(found.info.as_json()))), music)
    assert again.info == found.info
    assert (again.loop, again.part, again.share, again.click) == (found.loop, found.part, found.share, found.click)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"riff": "Gone"}, 'no riff "Gone" any more'),
        ({"last_bar": 9}, "4 bars now"),
        ({"first_bar": 4}, "4 bars now, not bars 4 to 3"),
        ({"part": "oboe"}, 'No part is called "oboe"'),
        ({"tempo_bpm": 100_000.0}, "is no tempo"),
    ],
)
def test_what_is_no_longer_there_is_told(music: Exercise, changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Passage.of_take(replace(KEPT, **{"riff": music.riffs[0].name, **changed}), music)


def test_a_take_alone_is_its_own_sound_on_both_sides() -> None:
    sounds, rate = played_again(recording(44_100), Beside.NOTHING, nothing, nothing)
    heard = np.concatenate(list(sounds))
    assert rate == 44_100
    assert heard.shape == (44_100, 2)
    assert (heard == 0.25).all()


def test_a_rate_that_cannot_be_played_is_told() -> None:
    with pytest.raises(ValueError, match="8000 Hz"):
        played_again(recording(8_000), Beside.NOTHING, nothing, nothing)


@pytest.mark.parametrize("late", [0, 3, 5_000, -3, -5_000])
def test_the_second_stream_begins_so_many_frames_after_the_first_or_before_it(late: int) -> None:
    one, two = (np.full((9_000, 2), level, np.float32) for level in (0.25, 0.5))
    heard = np.concatenate(list(together(iter([one[:100], one[100:]]), iter([two]), late)))[:, 0]
    first, second = max(0, -late), max(0, late)
    assert (heard[first : first + 9_000] >= 0.25).all()
    assert heard[second] == (0.75 if not late else 0.75 if second else 0.5)
    assert (heard[max(first, second) : min(first, second) + 9_000] == 0.75).all()
    assert np.flatnonzero(heard)[-1] == max(first, second) + 8_999
