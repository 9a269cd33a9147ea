"""Writes a SoundFont 2.01 file from samples, instruments and presets (SoundFont technical specification, 5 to 8)."""

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field

GENERATORS = {
    "filter": 8,  # cents over 8.176 Hz
    "filter envelope": 11,  # cents that the modulation envelope adds to the filter at its top
    "chorus": 15,  # 0.1 %
    "reverb": 16,  # 0.1 %
    "pan": 17,  # 0.1 %, -500 is left
    "filter hold": 27,  # timecents, as all times
    "filter decay": 28,
    "filter sustain": 29,  # 0.1 % below full
    "hold": 35,
    "decay": 36,
    "sustain": 37,  # centibels below full
    "release": 38,
    "keys": 43,  # low and high
    "velocities": 44,  # low and high
    "semitones": 51,
    "tune": 52,  # cents, -99 to 99
    "loop": 54,  # 0 none, 1 for as long as the voice sounds
    "chokes": 57,  # notes of one class end each other
    "root": 58,  # the key at which the sample sounds as recorded
}
"""The generators this bank uses, by names of our own; the numbers are the specification's."""

VELOCITY_TO_LEVEL = (0x0502, 48)
VELOCITY_TO_FILTER = (0x0102, 8)
"""Source and destination of the two modulators this bank sets: velocity, falling from full, concave and linear."""

GAP = 46
"""Silent frames the specification wants after each sample."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One recorded sound, 16 bits."""

    name: str
    frames: bytes
    """Little-endian 16-bit."""
    rate: int
    root: int
    loop: tuple[int, int] | None = None
    """First frame of the loop, and the frame after its last."""


@dataclass(frozen=True, slots=True)
class Zone:
    """Which sample serves which keys."""

    sample: Sample
    low: int
    high: int
    settings: dict[str, int] = field(default_factory=dict)
    velocities: tuple[int, int] = (0, 127)
    """The softest and the hardest stroke it serves."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """The zones of one preset, with settings for them all."""

    name: str
    bank: int
    program: int
    settings: dict[str, int]
    zones: Sequence[Zone]
    velocity_level: int = 960
    """Centibels between the softest and the loudest stroke; 960 is the specification's."""
    velocity_filter: int = -2400
    """Cents by which the softest stroke closes the filter."""


def _chunk(name: bytes, content: bytes) -> bytes:
    return name + struct.pack("<I", len(content)) + content + b"\0" * (len(content) % 2)


def _text(name: bytes, text: str) -> bytes:
    content = text.encode("ascii") + b"\0"
    return _chunk(name, content + b"\0" * (len(content) % 2))


def _name(text: str) -> bytes:
    return text.encode("ascii")[:19].ljust(20, b"\0")


def _generators(settings: dict[str, int]) -> list[bytes]:
    return [struct.pack("<Hh", GENERATORS[name], value) for name, value in sorted(settings.items())]


def write_soundfont(title: str, about: str, instruments: Sequence[Instrument]) -> bytes:
    """The whole file. Each instrument becomes one preset of the same name; equal samples are stored once."""
    samples = list({id(zone.sample): zone.sample for each in instruments for zone in each.zones}.values())
    index = {id(sample): number for number, sample in enumerate(samples)}
    ordered = sorted(instruments, key=lambda each: (each.bank, each.program))

    sound, headers = bytearray(), []
    for sample in samples:
        start = len(sound) // 2
        end = start + len(sample.frames) // 2
        first, after = sample.loop or (0, 0)
        fields = (start, end, start + first, start + after, sample.rate, sample.root, 0, 0, 1)
        headers.append(_name(sample.name) + struct.pack("<5IBbHH", *fields))
        sound += sample.frames + b"\0\0" * GAP
    headers.append(_name("EOS") + bytes(26))

    phdr, pbag, pgen = [], [], []
    inst, ibag, igen, imod = [], [], [], []
    for number, each in enumerate(ordered):
        phdr.append(_name(each.name) + struct.pack("<3H3I", each.program, each.bank, len(pbag), 0, 0, 0))
        pbag.append(struct.pack("<HH", len(pgen), 0))
        pgen.append(struct.pack("<HH", 41, number))
        inst.append(_name(each.name) + struct.pack("<H", len(ibag)))
        ibag.append(struct.pack("<HH", len(igen), len(imod)))
        igen += _generators(each.settings)
        for (source, target), amount in (
            (VELOCITY_TO_LEVEL, each.velocity_level),
            (VELOCITY_TO_FILTER, each.velocity_filter),
        ):
            imod.append(struct.pack("<HHhHH", source, target, amount, 0, 0))
        for zone in each.zones:
            ibag.append(struct.pack("<HH", len(igen), len(imod)))
            igen.append(struct.pack("<HBB", GENERATORS["keys"], zone.low, zone.high))
            if zone.velocities != (0, 127):
                igen.append(struct.pack("<HBB", GENERATORS["velocities"], *zone.velocities))
            igen += _generators({"root": zone.sample.root, "loop": 1 if zone.sample.loop else 0, **zone.settings})
            igen.append(struct.pack("<HH", 53, index[id(zone.sample)]))
    phdr.append(_name("EOP") + struct.pack("<3H3I", 0, 0, len(pbag), 0, 0, 0))
    pbag.append(struct.pack("<HH", len(pgen), 0))
    inst.append(_name("EOI") + struct.pack("<H", len(ibag)))
    ibag.append(struct.pack("<HH", len(igen), len(imod)))
    for table, size in ((pgen, 4), (igen, 4), (imod, 10)):
        table.append(bytes(size))

    info = _chunk(b"ifil", struct.pack("<HH", 2, 1)) + _text(b"isng", "EMU8000") + _text(b"INAM", title)
    info += _text(b"ICMT", about)
    tables = (
        (b"phdr", phdr), (b"pbag", pbag), (b"pmod", [bytes(10)]), (b"pgen", pgen), (b"inst", inst),
        (b"ibag", ibag), (b"imod", imod), (b"igen", igen), (b"shdr", headers),
    )  # fmt: skip
    pdta = b"".join(_chunk(name, b"".join(records)) for name, records in tables)
    body = b"sfbk"
    for name, content in ((b"INFO", info), (b"sdta", _chunk(b"smpl", bytes(sound))), (b"pdta", pdta)):
        body += _chunk(b"LIST", name + content)
    return _chunk(b"RIFF", body)
