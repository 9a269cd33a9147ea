"""The built-in bank, judged by what FluidSynth renders from it.

The bounds are the project's own: within 3 cents of pitch, attack under 10 ms, presets within 3 dB, no click where a
sample loops, no clipping at full polyphony.
"""

import numpy as np
import pyloudnorm
import pytest

from tests.sounds.hearing import RATE, Note, Signal, cents_off, hertz, note_of, phrase, synth
from tests.sounds.ranges import MUTED, PITCHED, RINGING
from trainer.sounds.articulation import Articulation
from trainer.sounds.dynamics import Weight
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches
from trainer.sounds.patch import Role

BANK = built_in_bank()

presets = pytest.mark.parametrize("preset", PITCHED, ids=lambda preset: f"bank {preset[0]} program {preset[1]}")


@presets
def test_every_note_is_within_three_cents_and_starts_within_ten_milliseconds(preset: tuple[int, int]) -> None:
    heard_s = 0.25 if preset in MUTED else 0.6
    with synth(BANK) as (player, number):
        for key in PITCHED[preset]:
            sound = note_of(player, number, preset, key, heard_s)
            assert abs(cents_off(sound[int(0.03 * RATE) :], key)) <= 3, f"key {key}"
            assert _attack_ms(sound) < 10, f"key {key}"


@pytest.mark.parametrize("key", [23, 35, 52, 70, 92])
def test_the_measure_of_pitch_tells_a_tenth_of_a_cent(key: int) -> None:
    time = np.arange(int(0.5 * RATE)) / RATE
    for off in (-3.0, -0.5, 0.0, 1.0, 3.0):
        hz = hertz(key) * 2 ** (off / 1200)
        tone = sum(np.sin(2 * np.pi * hz * n * time + n * n) / n for n in range(1, 9) if hz * n < 12000)
        assert cents_off(tone * np.exp(-3 * time), key) == pytest.approx(off, abs=0.1)


def test_sustained_notes_keep_their_pitch_in_the_loop() -> None:
    with synth(BANK) as (player, number):
        for preset, keys in RINGING.items():
            for key in (keys[0], keys[len(keys) // 2], keys[-1]):
                sound = note_of(player, number, preset, key, 2.5)
                assert abs(cents_off(sound[int(1.8 * RATE) :], key)) <= 3, f"{preset} key {key}"


def test_presets_that_ring_and_the_kit_are_within_three_decibels_and_so_are_palm_mutes() -> None:
    meter = pyloudnorm.Meter(RATE)
    with synth(BANK) as (player, number):
        loudness = {
            preset: meter.integrated_loudness(
                np.concatenate([note_of(player, number, preset, key, 0.2, 98, 0.02) for key in keys[::3]])
            )
            for preset, keys in PITCHED.items()
        }
        player.program_select(9, number, 128, 0)
        loudness[128, 0] = meter.integrated_loudness(phrase(player, _beat(), 8.0))
    muted = [loudness.pop((bank, 28)) for bank in range(3)]
    assert max(muted) - min(muted) <= 3, muted
    assert max(loudness.values()) - min(loudness.values()) <= 3, loudness


def test_a_click_is_as_loud_as_a_stroke_on_kick_or_snare() -> None:
    meter = pyloudnorm.Meter(RATE)
    with synth(BANK) as (player, number):
        kick, snare, high, low = (
            meter.integrated_loudness(note_of(player, number, (128, 0), key, 1.0)) for key in (36, 38, 76, 77)
        )
    assert max(kick, snare, high, low) - min(kick, snare, high, low) <= 3


@pytest.mark.parametrize("preset", PITCHED, ids=str)
def test_the_keys_of_a_preset_are_equally_loud(preset: tuple[int, int]) -> None:
    meter = pyloudnorm.Meter(RATE)
    with synth(BANK) as (player, number):
        found = [meter.integrated_loudness(note_of(player, number, preset, key, 0.45)) for key in PITCHED[preset][::4]]
    assert max(found) - min(found) <= 3


def test_nothing_clips_when_five_parts_play_all_they_have() -> None:
    """21 notes struck at once, every sixteenth at 120 bpm, all at velocity 127, at FluidSynth's default gain.

    Two guitars of six strings, both lead lines in thirds, bass, kick, snare, hat, crash and click.
    """
    with synth(BANK) as (player, number):
        sound = phrase(player, _full(player, number, 127), 2.5)
    assert float(np.abs(sound).max()) < 0.5


def test_a_palm_mute_is_gone_before_the_next_beat_and_an_open_note_is_not() -> None:
    with synth(BANK) as (player, number):
        muted = note_of(player, number, (0, 28), 40, 0.6)
        ringing_on = note_of(player, number, (0, 30), 40, 0.6)
    assert _level_db(muted[int(0.45 * RATE) :]) < _level_db(muted[: int(0.1 * RATE)]) - 20
    assert _level_db(ringing_on[int(0.45 * RATE) :]) > _level_db(ringing_on[: int(0.1 * RATE)]) - 3


@pytest.mark.parametrize("preset", [(3, 28), (4, 28), (2, 33), (2, 34)], ids=str)
def test_a_dead_note_is_a_knock(preset: tuple[int, int]) -> None:
    with synth(BANK) as (player, number):
        for key in (28, 40, 52, 64):
            knock = note_of(player, number, preset, key, 0.3)
            muted = note_of(player, number, (0, 28), key, 0.3)
            assert _attack_ms(knock) < 10
            assert _level_db(knock[int(0.08 * RATE) : int(0.1 * RATE)]) < _level_db(knock[: int(0.02 * RATE)]) - 18
            assert abs(_level_db(knock[: int(0.04 * RATE)]) - _level_db(muted[: int(0.04 * RATE)])) < 6


@pytest.mark.parametrize("preset", PITCHED, ids=str)
def test_a_note_ends_within_a_fifth_of_a_second(preset: tuple[int, int]) -> None:
    with synth(BANK) as (player, number):
        sound = note_of(player, number, preset, 52, 0.15, tail=0.3)
    during, after = sound[int(0.1 * RATE) : int(0.15 * RATE)], sound[int(0.35 * RATE) :]
    assert _level_db(after) < _level_db(during) - 30


def test_an_accent_is_louder_and_a_ghost_softer_on_every_patch() -> None:
    rig = load_patches()
    kit = rig.patch("drums").kit
    assert kit is not None
    with synth(BANK) as (player, number):
        ghost, plain, accent = (
            _level_db(note_of(player, number, (128, 0), *_stroke(kit.key("snare", weight))))
            for weight in (Weight.GHOST, Weight.PLAIN, Weight.ACCENT)
        )
    assert ghost < plain - 6
    assert accent > plain + 1.5


def test_left_and_right_play_one_note_with_two_sounds() -> None:
    rig = load_patches()
    for left, right in (("lead left", "lead right"), ("rhythm left", "rhythm right"), ("clean left", "clean right")):
        for articulation in (Articulation.OPEN,):
            sounds = []
            for name in (left, right):
                preset = rig.patch(name).preset(articulation)
                with synth(BANK) as (player, number):
                    sounds.append(note_of(player, number, (preset.bank, preset.program), 52, 0.4))
            one, two = sounds
            likeness = float(np.dot(one, two) / np.sqrt(np.dot(one, one) * np.dot(two, two)))
            assert likeness < 0.97, f"{left} and {right}"


def test_every_patch_asks_for_presets_the_bank_has_and_sounds() -> None:
    with synth(BANK) as (player, number):
        for patch in load_patches().patches:
            for preset in patch.presets:
                keys = [piece.key for piece in patch.kit.pieces] if patch.kit else [45]
                for key in keys:
                    sound = note_of(player, number, (preset.bank, preset.program), key, 0.1)
                    assert _level_db(sound) > -60, f"{patch.name} key {key}"
                    assert player.channel_info(9 if patch.kit else 0)[1:3] == (preset.bank, preset.program)
    assert {patch.role for patch in load_patches().patches} == set(Role)


def test_a_closed_hat_ends_an_open_one() -> None:
    with synth(BANK) as (player, number):
        player.program_select(9, number, 128, 0)
        rings = phrase(player, [(0.0, 0.05, 9, 46, 100)], 0.5)
        player.all_sounds_off(9)
        choked = phrase(player, [(0.0, 0.05, 9, 46, 100), (0.1, 0.15, 9, 42, 100)], 0.5)
    assert _level_db(choked[int(0.35 * RATE) :, 0]) < _level_db(rings[int(0.35 * RATE) :, 0]) - 20


def _attack_ms(sound: Signal) -> float:
    """From the first frame over 2 % of the note's early peak to the first over 70 % of it (3 dB below)."""
    size = np.abs(sound[: int(0.06 * RATE)])
    peak = size.max()
    return float(np.argmax(size > 0.7 * peak) - np.argmax(size > 0.02 * peak)) / RATE * 1000


def _level_db(sound: Signal) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(sound * sound)) + 1e-12))


def _stroke(key_and_velocity: tuple[int, int]) -> tuple[int, float, int]:
    key, velocity = key_and_velocity
    return key, 0.3, velocity


def _beat() -> list[Note]:
    notes: list[Note] = [(0.0, 0.1, 9, 49, 112)]
    for bar in range(4):
        start = bar * 2.0
        notes += [(start + i * 0.25, start + i * 0.25 + 0.1, 9, 42, 98) for i in range(8)]
        notes += [(start + at, start + at + 0.1, 9, 36, 98) for at in (0, 0.25, 0.375, 1, 1.25, 1.375)]
        notes += [(start + at, start + at + 0.1, 9, 38, 98) for at in (0.5, 1.5)]
    return notes


def _full(player: object, number: int, velocity: int) -> list[Note]:
    strings = [((0, 30), (40, 47, 52, 56, 59, 64, 76, 80), 20), ((0, 29), (40, 47, 52, 55, 59, 64, 79, 83), 108)]
    notes: list[Note] = []
    channel = 10
    for preset, keys, pan in [*strings, ((0, 34), (28,), 64)]:
        for key in keys:
            player.program_select(channel, number, *preset)  # type: ignore[attr-defined]
            player.cc(channel, 10, pan)  # type: ignore[attr-defined]
            notes += [(i / 8, (i + 1) / 8, channel, key, velocity) for i in range(16)]
            channel += 1
    player.program_select(9, number, 128, 0)  # type: ignore[attr-defined]
    for i in range(16):
        drums = [36, 42, 76 if i % 4 == 0 else 77, *([38] if i % 4 == 2 else []), *([49] if i % 4 == 0 else [])]
        notes += [(i / 8, i / 8 + 0.1, 9, key, velocity) for key in drums]
    return notes
