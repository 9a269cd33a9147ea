"""A SoundFont of two sounds that are made to be measured: a click on the left and a steady tone on the right."""

import math
import struct
from array import array
from pathlib import Path

RATE = 48000
CLICK = 0  # program of the click: an onset within a block, silent after 10 ms
TONE = 1  # program of the tone: a looped sine of 128 frames, so its frequency at key 60 is exact
TONE_PERIOD = 128
KEY = 60  # the key at which both sound as they are written

_PAN, _RELEASE, _INSTRUMENT, _SAMPLE, _MODES = 17, 38, 41, 53, 54
_GUARD = 46  # frames of silence that must follow a sample (SoundFont 2.04, 6.1)


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def _list(name: bytes, *chunks: bytes) -> bytes:
    return _chunk(b"LIST", name + b"".join(chunks))


def _click() -> list[int]:
    return [round(30000 * math.exp(-n / 60) * math.cos(2 * math.pi * n * 3000 / RATE)) for n in range(480)]


def _tone() -> list[int]:
    return [round(12000 * math.sin(2 * math.pi * n / TONE_PERIOD)) for n in range(4 * TONE_PERIOD)]


def write_tiny_bank(path: Path) -> Path:
    """Write the bank to `path`, and return it."""
    samples, frames = array("h"), []
    for sound in (_click(), _tone()):
        start = len(samples)
        samples.extend(sound)
        frames.append((start, len(samples)))
        samples.extend([0] * _GUARD)
    names = (b"click", b"tone")
    presets, headers = b"", b""
    preset_generators, instrument_generators = b"", b""
    pan = (-500, 500)
    for number, (name, (start, end)) in enumerate(zip(names, frames, strict=True)):
        presets += struct.pack("<20sHHHIII", name, number, 0, number, 0, 0, 0)
        preset_generators += struct.pack("<HH", _INSTRUMENT, number)
        for generator, amount in ((_PAN, pan[number]), (_RELEASE, -12000), (_MODES, number), (_SAMPLE, number)):
            instrument_generators += struct.pack("<Hh", generator, amount)
        loop = (start + TONE_PERIOD, end - TONE_PERIOD)
        headers += struct.pack("<20sIIIIIBbHH", name, start, end, *loop, RATE, KEY, 0, 0, 1)
    presets += struct.pack("<20sHHHIII", b"EOP", 0, 0, 2, 0, 0, 0)
    preset_bags = b"".join(struct.pack("<HH", n, 0) for n in range(3))
    instruments = b"".join(struct.pack("<20sH", name, n) for n, name in enumerate((*names, b"EOI")))
    instrument_bags = b"".join(struct.pack("<HH", 4 * n, 0) for n in range(3))
    headers += struct.pack("<20sIIIIIBbHH", b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0)
    last = struct.pack("<HH", 0, 0)
    no_modulators = struct.pack("<HHhHH", 0, 0, 0, 0, 0)
    information = _list(
        b"INFO",
        _chunk(b"ifil", struct.pack("<HH", 2, 1)),
        _chunk(b"isng", b"EMU8000\0"),
        _chunk(b"INAM", b"tiny\0\0"),
    )
    parameters = _list(
        b"pdta",
        _chunk(b"phdr", presets),
        _chunk(b"pbag", preset_bags),
        _chunk(b"pmod", no_modulators),
        _chunk(b"pgen", preset_generators + last),
        _chunk(b"inst", instruments),
        _chunk(b"ibag", instrument_bags),
        _chunk(b"imod", no_modulators),
        _chunk(b"igen", instrument_generators + last),
        _chunk(b"shdr", headers),
    )
    sound = _list(b"sdta", _chunk(b"smpl", samples.tobytes()))
    path.write_bytes(_chunk(b"RIFF", b"sfbk" + information + sound + parameters))
    return path
