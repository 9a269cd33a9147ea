"""judge on takes that no riff explains: a clear sentence, and never a long wait."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.commands.conftest import Call
from tests.listening.plucked import line, player, record

PART = """\
+++
title = "Ladder Lane"
id = "ladder-lane"
tempo = { start = 100, target = 140 }
+++

## Lane

```tab guitar 1
count | 1 & 2 & 3 & 4 & | 1 & 2 & 3 & 4 & |
5     | 0 2 3 5 7 5 3 2 | 0 2 3 5 7 5 3 2 |
```
"""
PITCHES = (45, 47, 48, 50, 52, 50, 48, 47) * 2
JUDGE = ("judge", "lane.md", "take.wav")


@pytest.fixture
def lane(home: Path) -> Path:
    (home / "work" / "lane.md").write_text(PART)
    return home / "work"


def keep(folder: Path, tempo: float, tail: int = 0) -> None:
    """A take of the part at a tempo, with some strokes more after its end."""
    written = line((*PITCHES, *PITCHES[:tail]), tempo)
    sound = record(player(written, 0.4, 3.0), float(written.length) + 1.0)
    soundfile.write(folder / "take.wav", sound.samples, sound.rate)


def test_the_first_tempo_that_fits_is_taken(call: Call, lane: Path) -> None:
    for tempo in (140, 100):
        keep(lane, tempo)
        assert f"guitar 1 of Lane, {tempo} bpm: clean" in call(*JUDGE).out


def test_a_tempo_that_was_not_tried_is_asked_for(call: Call, lane: Path) -> None:
    keep(lane, 118)
    done = call(*JUDGE)
    assert done.code == 1
    assert "Could not match" in done.out
    assert "The target and the start tempo were tried: say with --tempo how fast it was played." in done.out
    assert "118 bpm: clean" in call(*JUDGE, "--tempo", "118").out


def test_half_a_tempo_is_recognised(call: Call, lane: Path) -> None:
    keep(lane, 50)
    done = call(*JUDGE)
    assert "this sounds like half the tempo, 50 bpm" in done.out


def test_more_passes_than_a_take_can_hold_are_refused_at_once(call: Call, lane: Path) -> None:
    keep(lane, 140)
    done = call(*JUDGE, "--passes", "1000")
    assert done.code == 1
    assert "The take lasts 0:04, but 1000 passes last 57:08: say with --passes how often it was played." in done.out


def test_what_is_played_after_the_end_is_nobodys_fault(call: Call, lane: Path) -> None:
    keep(lane, 140, tail=5)
    done = call(*JUDGE)
    assert "140 bpm: clean" in done.out
    assert "possibly" not in done.out.casefold()


@pytest.mark.parametrize("bad", ["damaged", "clipped"])
def test_damaged_and_clipped_samples_are_told(call: Call, lane: Path, bad: str) -> None:
    keep(lane, 140)
    samples, rate = soundfile.read(lane / "take.wav", dtype="float32")
    samples = (
        np.clip(samples * 40, -1, 1) if bad == "clipped" else np.where(np.arange(len(samples)) % 9, samples, np.nan)
    )
    soundfile.write(lane / "take.wav", samples, rate, subtype="FLOAT")
    done = call(*JUDGE, "--tempo", "140")
    if bad == "clipped":
        assert "The input clips" in done.out
    else:
        assert done.code == 1
        assert done.err.strip() == "take.wav: 11.1% of its samples are damaged (no numbers). Export it again."


def test_output_that_finds_no_room_is_a_sentence(call: Call, lane: Path) -> None:
    keep(lane, 140)
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "trainer", *JUDGE, "--tempo", "140"], cwd=lane, stdout=full, stderr=subprocess.PIPE,
            text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.strip() == "twinspur: There is no room left where this is written to: make some, and try again."
