"""Where a sample of the built-in bank loops, nothing is heard: in the file, and in what FluidSynth renders."""

import struct
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.sounds.hearing import RATE, Signal, hertz, note_of, synth
from tests.sounds.ranges import RINGING
from trainer.sounds.find_banks import built_in_bank

BANK = built_in_bank()

SUSTAIN = 37
"""The generator that says how far a note's level falls while it is held."""

SEAM = 0.001
"""How far the frames around a loop's end may be from those around its start, against the sample's peak."""

CLICK = 0.005
"""How far any period may be from the middle between its neighbours, against the note's peak: half a click's height."""


def test_every_ringing_sample_has_a_loop_whose_seam_closes() -> None:
    looping = list(_seams(0))
    assert len(looping) > 90
    assert max(looping) < SEAM


@pytest.mark.parametrize("frames", [-1, 1])
def test_a_loop_one_frame_off_would_be_seen(frames: int) -> None:
    off = np.array(list(_seams(frames)))
    assert np.mean(off > SEAM) > 0.9


@pytest.fixture(scope="module")
def level_bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bank without its notes' decay.

    FluidSynth lets a level fall in steps of a centibel (1.2 % of the wave), which is more than what is measured here.
    """
    content = bytearray(BANK.read_bytes())
    start = content.rindex(b"igen") + 8
    for at in range(start, start + struct.unpack_from("<I", content, start - 4)[0], 4):
        if struct.unpack_from("<H", content, at)[0] == SUSTAIN:
            struct.pack_into("<H", content, at + 2, 0)
    path = tmp_path_factory.mktemp("level") / "level.sf2"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("preset", RINGING, ids=str)
def test_no_click_is_heard_where_a_note_begins_to_loop(level_bank: Path, preset: tuple[int, int]) -> None:
    with synth(level_bank) as (player, number):
        for key in RINGING[preset][::2]:
            assert _surprise(note_of(player, number, preset, key, 1.6), key) < CLICK, f"key {key}"


@pytest.mark.parametrize("preset", RINGING, ids=str)
def test_a_step_a_fiftieth_of_the_note_would_be_heard(level_bank: Path, preset: tuple[int, int]) -> None:
    with synth(level_bank) as (player, number):
        sound = note_of(player, number, preset, 52, 1.6)
    sound[RATE:] += 0.02 * np.abs(sound).max()
    assert _surprise(sound, 52) > CLICK


def _seams(later: int) -> Iterator[float]:
    """For each looping sample, with its loop's end moved by `later` frames: the largest step the loop hides."""
    content = BANK.read_bytes()
    start = content.index(b"smpl") + 8
    sound = np.frombuffer(content, "<i2", struct.unpack_from("<I", content, start - 4)[0] // 2, start).astype(float)
    table = content.rindex(b"shdr") + 8
    for _, first, end, loop_start, loop_end, *_ in struct.iter_unpack("<20s5IBbHH", content[table:]):
        if loop_end > loop_start > first:
            before = sound[loop_start - 8 : loop_start + 8]
            after = sound[loop_end + later - 8 : loop_end + later + 8]
            yield float(np.abs(before - after).max() / np.abs(sound[first:end]).max())


def _surprise(sound: Signal, key: int) -> float:
    """The largest difference of the wave from the mean of itself one period earlier and one later, against its peak.

    A string that dies away slowly hardly differs from that mean; a click does, by half its height.
    """
    period = RATE / hertz(key)
    steady = sound[int(0.3 * RATE) :].copy()
    taper = np.sin(np.linspace(0, np.pi / 2, 2400)) ** 2
    steady[:2400] *= taper
    steady[-2400:] *= taper[::-1]
    spectrum = np.fft.rfft(steady)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(len(steady)) * period)
    earlier, later = (np.fft.irfft(spectrum * each, len(steady)) for each in (turn, turn.conj()))
    edge = 2400 + int(2 * period) + 400
    off = (steady - (earlier + later) / 2)[edge:-edge]
    return float(np.abs(off).max() / np.abs(sound).max())
