"""Two takes of one riff in one sound: each on its side, their first beats together."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tests.machine import RIG
from trainer.listening.sound import Sound
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import KeptTake, Takes
from trainer.music.problem import ProblemsError
from trainer.session.duo_sound import duo_sound, why_not
from trainer.session.own_machine import ExerciseFiles
from trainer.session.played_again import Voices

INFO = TakeInfo(exercise="salt-road", riff="Gallop", part="guitar 1", first_bar=1, last_bar=4, tempo_bpm=120.0)
RATE = 48_000


def kept(takes: Takes, beat: int, level: float, rate: int = RATE) -> KeptTake:
    """A take that is silent but for its first beat, which is at a frame."""
    samples = np.zeros(beat + rate // 2, np.float32)
    samples[beat] = level
    info = replace(INFO, start_s=beat / rate, start_known=True)
    return takes.keep(Sound(samples, rate), None, info, datetime(2031, 5, 4, tzinfo=UTC))


def voices() -> Voices:
    raise AssertionError("no voice is asked for")


@pytest.mark.parametrize("beats", [(4_800, 12_345), (12_345, 4_800), (0, 0)])
def test_first_beats_are_together_whichever_take_began_earlier(tmp_path: Path, beats: tuple[int, int]) -> None:
    takes = Takes(tmp_path)
    one, other = kept(takes, beats[0], 0.5), kept(takes, beats[1], 0.25)
    sound, rate = duo_sound(one, other, voices, ExerciseFiles(lambda: [], None, lambda: RIG))
    assert rate == RATE
    first, second = (int(np.argmax(np.abs(sound[:, side]))) for side in (0, 1))
    assert first == second == max(beats)
    assert sound[first].tolist() == pytest.approx([0.5, 0.25], abs=1e-5)
    assert len(sound) == max(beats) + RATE // 2


def test_takes_of_two_rates_are_a_sentence(tmp_path: Path) -> None:
    takes = Takes(tmp_path)
    with pytest.raises(ProblemsError, match="48000 and 44100 frames"):
        duo_sound(
            kept(takes, 1, 0.5), kept(takes, 1, 0.5, 44_100), voices, ExerciseFiles(lambda: [], None, lambda: RIG)
        )


@pytest.mark.parametrize(
    ("other", "told"),
    [
        (replace(INFO, part="guitar 2"), ""),
        (replace(INFO, tempo_bpm=120.01), ""),
        (replace(INFO, tempo_bpm=126.0), "They were played at 120 and 126 bpm"),
        (replace(INFO, tempo_bpm=None), "does not say its tempo"),
        (replace(INFO, riff="Other"), "not of one riff"),
        (replace(INFO, exercise="other"), "not of one riff"),
        (replace(INFO, first_bar=2), "do not begin at one bar"),
    ],
)
def test_only_one_riff_at_one_tempo_can_be_put_together(other: TakeInfo, told: str) -> None:
    assert told in why_not(INFO, other) if told else not why_not(INFO, other)
