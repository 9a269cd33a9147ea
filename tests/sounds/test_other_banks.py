"""The patches through an installed General MIDI bank instead of the built-in one, and compressed banks."""

import io
import struct
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.sounds.hearing import RATE, Signal, hertz, note_of, synth
from trainer.music.problem import ProblemsError
from trainer.places import bundled
from trainer.sounds.articulation import Articulation
from trainer.sounds.find_banks import built_in_bank, find_banks
from trainer.sounds.load_patches import load_patches
from trainer.sounds.sound_bank import SOUNDS_HIGHER, check_bank

INSTALLED = [pytest.param(path, id=path.stem) for path in find_banks()]

if not INSTALLED:
    INSTALLED = [pytest.param(None, marks=pytest.mark.skip(reason="no General MIDI bank is installed here"))]

installed = pytest.mark.parametrize("path", INSTALLED)


@installed
def test_every_patch_sounds_through_an_installed_bank(path: Path) -> None:
    bank = check_bank(path)
    here = {(each.bank, each.program) for each in bank.presets}
    with synth(path) as (player, number):
        for patch in load_patches().patches:
            for preset in map(bank.fit, patch.presets):
                assert (preset.bank, preset.program) in here
                for key in [piece.key for piece in patch.kit.pieces] if patch.kit else [45]:
                    sound = note_of(player, number, (preset.bank, preset.program), key + preset.transpose, 0.2)
                    assert np.abs(sound).max() > 0.001, f"{patch.name} key {key}"


@installed
def test_a_harmonic_sounds_at_the_written_pitch_through_a_bank_that_is_known(path: Path) -> None:
    bank = check_bank(path)
    if bank.name not in {name for name, _, _ in SOUNDS_HIGHER}:
        pytest.skip(f"nobody has measured at which pitch the harmonics of {bank.name} sound")
    preset = bank.fit(load_patches().patch("lead right").preset(Articulation.HARMONIC))
    with synth(path) as (player, number):
        for key in (52, 64, 76):
            sound = note_of(player, number, (preset.bank, preset.program), key + preset.transpose, 1.0)
            assert _stands_out(sound, hertz(key))
            assert not _stands_out(sound, hertz(key) / 2)


def test_a_harmonic_of_the_built_in_bank_sounds_at_the_written_pitch() -> None:
    with synth(built_in_bank()) as (player, number):
        for preset in ((0, 31), (1, 31), (2, 31)):
            for key in (52, 64, 76):
                sound = note_of(player, number, preset, key, 1.0)
                assert _stands_out(sound, hertz(key))
                assert not _stands_out(sound, hertz(key) / 2)


def test_a_compressed_bank_is_listed(tmp_path: Path) -> None:
    path = tmp_path / "small.sf3"
    path.write_bytes(_compressed())
    bank = check_bank(path)
    assert bank.version == (3, 1)
    assert [each.name for each in bank.presets] == ["one"]


def test_a_compressed_bank_whose_odd_parts_are_not_filled_up_is_listed(tmp_path: Path) -> None:
    """As the banks that Debian packages are written; RIFF would have a zero byte after an odd length."""
    content = bytearray(_compressed())
    sound = content.index(b"sdta")
    tables = content.index(b"LIST", sound)
    del content[tables - 1]
    for size_at in (4, sound - 4, sound + 8):
        struct.pack_into("<I", content, size_at, struct.unpack_from("<I", content, size_at)[0] - 1)
    path = tmp_path / "odd.sf3"
    path.write_bytes(content)
    assert [each.name for each in check_bank(path).presets] == ["one"]


def test_a_compressed_sample_that_is_no_ogg_stream_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "small.sf3"
    path.write_bytes(_compressed().replace(b"OggS", b"OggT", 1))
    with pytest.raises(ProblemsError, match="no Ogg stream"):
        check_bank(path)


def _stands_out(sound: Signal, hz: float) -> bool:
    """Whether there is a partial around `hz` within 10 dB of the strongest."""
    size = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    low, high = (round(hz * side * len(sound) / RATE) for side in (0.97, 1.03))
    return bool(size[low : high + 1].max() > size.max() * 10 ** (-10 / 20))


def _compressed() -> bytes:
    """A version 3 bank of one sample: a version 2 one whose sound is replaced by an Ogg stream of it."""
    sys.path.insert(0, str(bundled("patches")))
    try:
        from soundfont_writer import Instrument, Sample, Zone, write_soundfont
    finally:
        sys.path.pop(0)
    wave = np.sin(2 * np.pi * 440 * np.arange(24000) / 24000) * 0.5
    stream = io.BytesIO()
    soundfile.write(stream, wave, 24000, format="OGG", subtype="VORBIS")
    ogg = stream.getvalue() + b"\0" * (len(stream.getvalue()) % 2)
    content = bytearray(
        write_soundfont(
            "small", "one sample", [Instrument("one", 0, 30, {}, [Zone(Sample("a", ogg, 24000, 69), 0, 127)])]
        )
    )
    struct.pack_into("<H", content, content.index(b"ifil") + 8, 3)
    header = content.rindex(b"shdr") + 8
    struct.pack_into("<I", content, header + 24, len(ogg))
    struct.pack_into("<H", content, header + 44, 1 | 0x10)
    return bytes(content)


@installed
def test_a_rig_is_fitted_to_a_bank_as_a_whole(path: Path) -> None:
    bank = check_bank(path)
    fitted = load_patches().fitted_to(bank)
    here = {(each.bank, each.program) for each in bank.presets}
    assert {(preset.bank, preset.program) for patch in fitted.patches for preset in patch.presets} <= here


def test_a_rig_fitted_to_the_built_in_bank_is_the_same_rig() -> None:
    assert load_patches().fitted_to(check_bank(built_in_bank())) == load_patches()
