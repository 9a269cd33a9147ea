"""A sound that grows: what was heard ahead changes nothing of what is heard at the end, and is not heard twice."""

from itertools import pairwise

import numpy as np
import pytest

from tests.listening.plucked import gallop, line, player, record
from trainer.listening.growing_sound import GrowingSound, SoundMemory
from trainer.listening.hearing import hear
from trainer.listening.judging import judge_cut_pass
from trainer.listening.sound import Sound
from trainer.listening.written import WrittenPart

RATE = 48_000


def grown(sound: Sound, pieces: int, written: WrittenPart | None = None) -> GrowingSound:
    """The sound as it came in so many pieces, heard after each but the last."""
    growing = GrowingSound(sound.rate)
    edges = np.linspace(0, len(sound.samples), pieces + 1).astype(int)
    for first, last in pairwise(edges):
        if written is not None and growing.frames:
            reach = growing.frames / sound.rate - 0.3
            strokes = tuple(stroke for stroke in written.strokes if float(stroke.at) < reach)
            if len(strokes) > 4:
                hear(growing.sound(), WrittenPart(strokes, written.length), [(0.15, 1.0)])
        growing.add(sound.samples[first:last])
    return growing


@pytest.mark.parametrize("pieces", [1, 2, 7, 40])
@pytest.mark.parametrize("least", [20_000, 11_000])
def test_a_lower_rate_made_in_pieces_is_the_one_made_at_once(pieces: int, least: int) -> None:
    rng = np.random.default_rng(pieces)
    sound = Sound(rng.normal(0, 0.1, 50_001).astype(np.float32), RATE)
    growing = GrowingSound(RATE)
    for piece in np.array_split(sound.samples, pieces):
        growing.add(piece)
        lowered = growing.sound().lowered(least)
    whole = sound.lowered(least)
    assert lowered.rate == whole.rate
    assert np.array_equal(lowered.samples, whole.samples)


@pytest.mark.parametrize(
    "written", [gallop(190, 12), line((40, 43, (45, 52), 47, 50, 52, 50, 47) * 4, 140)], ids=["gallop", "line"]
)
@pytest.mark.parametrize("pieces", [2, 5, 11])
def test_a_pass_heard_ahead_is_judged_as_one_that_was_not(written: WrittenPart, pieces: int) -> None:
    notes = player(written, 0.17, 3.0)
    sound = record([*notes[:5], *notes[6:]], float(written.length) + 0.4)
    at_once = judge_cut_pass(sound, 0.15, written)
    ahead = judge_cut_pass(grown(sound, pieces, written).sound(), 0.15, written)
    assert at_once.performance is not None
    assert ahead == at_once  # to the last bit of every stroke and interval


def test_what_was_found_is_not_looked_for_again_and_what_has_not_come_is() -> None:
    growing = GrowingSound(RATE)
    growing.add(np.ones(1_000, np.float32))
    asked = []

    def find() -> int:
        asked.append(1)
        return len(asked)

    assert [growing.sound().remembered("spectrum", 0, 1_000, find) for _ in range(3)] == [1, 1, 1]
    assert [growing.sound().remembered("spectrum", 500, 1_001, find) for _ in range(2)] == [2, 3]
    growing.add(np.ones(10, np.float32))
    assert [growing.sound().remembered("spectrum", 500, 1_001, find) for _ in range(2)] == [4, 4]


def test_the_memory_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trainer.listening.growing_sound.MOST_BYTES", 1_000)
    memory = SoundMemory()
    for number in range(10):
        memory.remembered(("spectrum", number, number), lambda: np.zeros(100))
    assert memory.bytes <= 1_000
