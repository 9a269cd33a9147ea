"""A sound bank's own account of itself: the structure of a SoundFont file, read without trusting a single size in it.

The layout is that of the SoundFont 2.04 technical specification (a RIFF file of form `sfbk` with the lists `INFO`,
`sdta` and `pdta`); version 3 files have the same layout with each sample as an Ogg stream. Everything a synth would
follow (sizes, indices, sample ends) is checked here first, so that a damaged file is refused in a sentence and never
loaded.
"""

import os
import stat
import struct
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO

from trainer.music.problem import Problem, ProblemsError
from trainer.sounds.patch import Preset
from trainer.sounds.shown import shown, shown_path

SIZE_LIMIT = 2 * 1024**3
"""Bytes a bank may have."""

_PDTA_LIMIT = 64 * 1024**2
"""Bytes the tables of a bank may have; a General MIDI bank of 148 MB has 1."""

_TEXT_LIMIT, _COMMENT_LIMIT = 256, 65_536
"""Bytes of a text in the INFO list; its length is even (SoundFont 2.04, 5)."""
_INFO = frozenset(["ifil", "isng", "INAM", "irom", "iver", "ICRD", "IENG", "IPRD", "ICOP", "ICMT", "ISFT"])
"""What the INFO list may hold (SoundFont 2.04, 5). A bank with anything else is refused by FluidSynth's own loader, and
tried by libinstpatch's, which on what is no bank of its kind destroys the memory it works in (2.3.1 with 1.1.6)."""
_RECORDS = {"phdr": 38, "pbag": 4, "pmod": 10, "pgen": 4, "inst": 22, "ibag": 4, "imod": 10, "igen": 4, "shdr": 46}
"""The tables of `pdta`, in their order, and the bytes of one record of each."""

_INSTRUMENT, _SAMPLE_ID = 41, 53
"""The generators that point to another table."""

_ROM, _VORBIS = 0x8000, 0x10

SOUNDS_HIGHER = {
    ("Fluid R3 GM", 0, 31): 24,
    ("FluidR3Mono_GM.sf3", 0, 31): 24,
    ("TimGM6mb1.sf2", 0, 31): 24,
}
"""Semitones by which a preset of a known bank (its name, bank, program) sounds over its key.

General MIDI does not say at which pitch guitar harmonics sound. Measured in banks that Debian packages: they are two
octaves over the key.
"""


@dataclass(frozen=True, slots=True, order=True)
class BankPreset:
    """One preset that a bank offers."""

    bank: int
    program: int
    name: str


@dataclass(frozen=True, slots=True)
class SoundBank:
    """A SoundFont file whose structure has been checked."""

    path: Path
    name: str
    version: tuple[int, int]
    size: int
    """Bytes."""
    presets: tuple[BankPreset, ...]
    """In order of bank and program."""

    def fit(self, preset: Preset) -> Preset:
        """What to ask of this bank for `preset`: the preset itself, or its plain program where it has no variation.

        A preset that sounds higher than its key here is transposed, so that the written pitch is heard.
        """
        here = {(each.bank, each.program) for each in self.presets}
        found = preset if (preset.bank, preset.program) in here else preset.plain
        higher = SOUNDS_HIGHER.get((self.name, found.bank, found.program), 0)
        return replace(found, transpose=found.transpose - higher) if higher else found


class _DamagedError(Exception):
    """What is wrong with the file, as a sentence without its full stop."""


def check_bank(path: Path) -> SoundBank:
    """Read a bank's structure. Raises ProblemsError when the file is missing, unreadable, damaged or no SoundFont."""
    name = shown_path(path)
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise _DamagedError("this is a folder, not a sound bank")
        if not stat.S_ISREG(mode):
            raise _DamagedError("this is a device or a pipe, not a sound bank")
        with path.open("rb") as file:
            return _read(path, file)
    except _DamagedError as error:
        what = str(error)
    except FileNotFoundError:
        what = "there is no such sound bank"
    except PermissionError:
        what = "this sound bank may not be read: permission denied"
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        what = f"this sound bank cannot be read: {shown(reason)}"
    hint = "Choose a SoundFont file (.sf2 or .sf3), or leave --bank out to use the built-in bank"
    raise ProblemsError([Problem(name, 0, 0, what, hint=hint)])


def _read(path: Path, file: BinaryIO) -> SoundBank:
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    head = file.read(12)
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise _DamagedError("this is not a SoundFont file")
    if size > SIZE_LIMIT:
        raise _DamagedError(f"this sound bank is too large: at most {SIZE_LIMIT // 1024**3} GiB are allowed")
    if struct.unpack("<I", head[4:8])[0] + 8 > size:
        raise _DamagedError("this sound bank is cut short: it says it is longer than the file")
    lists = _lists(file, 12, struct.unpack("<I", head[4:8])[0] + 8)
    info = _chunks(file, *lists["INFO"])
    _check_info(info)
    sound = _chunks(file, *lists["sdta"])
    tables = _tables(file, lists["pdta"])
    version = struct.unpack("<HH", _content(file, info, "ifil", 4)[:4].ljust(4, b"\0"))
    if version[0] not in (2, 3):
        raise _DamagedError(f"this is version {version[0]} of the SoundFont format; versions 2 and 3 can be played")
    _check_indices(tables)
    start, length = sound.get("smpl", (0, 0))
    _check_samples(file, tables, start, length)
    presets = sorted(_presets(tables["phdr"]))
    if not presets:
        raise _DamagedError("this sound bank has no presets")
    name = _text(_content(file, info, "INAM", 256)) or path.stem
    return SoundBank(path, shown(name), (version[0], version[1]), size, tuple(presets))


def _check_info(info: dict[str, tuple[int, int]]) -> None:
    """The parts of the INFO list are known, and as long as they may be."""
    for part, (_, length) in info.items():
        if part not in _INFO:
            raise _DamagedError(f'this sound bank is damaged: "{shown(part)}" is no part of its "INFO" list')
        fixed = part in ("ifil", "iver")
        if length != 4 if fixed else length % 2 or length > (_COMMENT_LIMIT if part == "ICMT" else _TEXT_LIMIT):
            raise _DamagedError(f'this sound bank is damaged: the part "{part}" of its "INFO" list has a wrong length')


def _lists(file: BinaryIO, start: int, end: int) -> dict[str, tuple[int, int]]:
    """Start and length of the content of the three lists, which must stand in the specification's order."""
    found: dict[str, tuple[int, int]] = {}
    at = start
    for wanted in ("INFO", "sdta", "pdta"):
        file.seek(at)
        head = file.read(12)
        if len(head) < 12 or head[:4] != b"LIST" or head[8:] != wanted.encode():
            raise _DamagedError(f'this sound bank is damaged: its "{wanted}" list is missing')
        length = struct.unpack("<I", head[4:8])[0]
        if length < 4 or at + 8 + length > end:
            raise _DamagedError(f'this sound bank is cut short: its "{wanted}" list is longer than the file')
        found[wanted] = (at + 12, length - 4)
        at = _next(file, at + 8 + length, length)
    return found


def _next(file: BinaryIO, at: int, length: int) -> int:
    """Where the next part begins: RIFF fills odd lengths with a zero byte, but writers of version 3 banks do not."""
    if length % 2:
        file.seek(at)
        return at + 1 if file.read(1) == b"\0" else at
    return at


def _chunks(file: BinaryIO, start: int, length: int) -> dict[str, tuple[int, int]]:
    """Start and length of each chunk's content inside one list."""
    found: dict[str, tuple[int, int]] = {}
    at, end = start, start + length
    while at + 8 <= end:
        file.seek(at)
        head = file.read(8)
        size = struct.unpack("<I", head[4:])[0]
        if at + 8 + size > end:
            raise _DamagedError("this sound bank is damaged: a part of it is longer than what holds it")
        found.setdefault(head[:4].decode("latin-1"), (at + 8, size))
        at = _next(file, at + 8 + size, size)
        if len(found) > 64:
            raise _DamagedError("this sound bank is damaged: it has too many parts")
    return found


def _content(file: BinaryIO, chunks: dict[str, tuple[int, int]], name: str, limit: int) -> bytes:
    start, length = chunks.get(name, (0, 0))
    file.seek(start)
    return file.read(min(length, limit))


def _tables(file: BinaryIO, place: tuple[int, int]) -> dict[str, bytes]:
    """The nine tables of `pdta`, each a whole number of records with at least its last one."""
    start, length = place
    if length > _PDTA_LIMIT:
        raise _DamagedError("this sound bank is damaged: its tables are too large")
    chunks = _chunks(file, start, length)
    if [name for name in chunks if name in _RECORDS] != list(_RECORDS):
        raise _DamagedError("this sound bank is damaged: one of its tables is missing or out of order")
    tables = {name: _content(file, chunks, name, _PDTA_LIMIT) for name in _RECORDS}
    for name, record in _RECORDS.items():
        least = 2 if name in ("phdr", "inst", "shdr") else 1
        if len(tables[name]) % record or len(tables[name]) < least * record:
            raise _DamagedError(f'this sound bank is damaged: its table "{name}" is not whole')
    return tables


def _check_indices(tables: dict[str, bytes]) -> None:
    """Every index into another table rises and stays inside it."""
    phdr = [fields[3] for fields in struct.iter_unpack("<20s3H3I", tables["phdr"])]
    inst = [fields[1] for fields in struct.iter_unpack("<20sH", tables["inst"])]
    _rising(phdr, len(tables["pbag"]) // 4, "phdr")
    _rising(inst, len(tables["ibag"]) // 4, "inst")
    for bag, gen, mod, points_to, target in (
        ("pbag", "pgen", "pmod", _INSTRUMENT, "inst"),
        ("ibag", "igen", "imod", _SAMPLE_ID, "shdr"),
    ):
        pairs = list(struct.iter_unpack("<HH", tables[bag]))
        _rising([pair[0] for pair in pairs], len(tables[gen]) // 4, bag)
        _rising([pair[1] for pair in pairs], len(tables[mod]) // 10, bag)
        last = len(tables[target]) // _RECORDS[target] - 1
        for operator, amount in struct.iter_unpack("<HH", tables[gen]):
            if operator == points_to and amount >= last:
                raise _DamagedError(f'this sound bank is damaged: its table "{gen}" points to nothing')


def _rising(indices: list[int], count: int, table: str) -> None:
    """Indices never fall and the last one, which ends the table, is inside the other's `count` records."""
    if any(one > two for one, two in pairwise(indices)) or (indices and indices[-1] >= count):
        raise _DamagedError(f'this sound bank is damaged: its table "{table}" points to nothing')


def _check_samples(file: BinaryIO, tables: dict[str, bytes], start: int, length: int) -> None:
    """Every sample that an instrument uses lies inside the sound data and can be played."""
    headers = list(struct.iter_unpack("<20s5IBbHH", tables["shdr"]))
    used = {amount for operator, amount in struct.iter_unpack("<HH", tables["igen"]) if operator == _SAMPLE_ID}
    for index in sorted(used):
        name, first, end, _, _, rate, _, _, _, kind = headers[index]
        if kind & _ROM:
            continue
        limit = length if kind & _VORBIS else length // 2
        sample = f'its sample "{shown(_text(name))}"'
        if not first < end <= limit:
            raise _DamagedError(f"this sound bank is damaged: {sample} reaches beyond its sound data")
        if not 100 <= rate <= 400_000:
            raise _DamagedError(f"this sound bank is damaged: {sample} has a rate of {rate} Hz")
        if kind & _VORBIS:
            file.seek(start + first)
            if file.read(4) != b"OggS":
                raise _DamagedError(f"this sound bank is damaged: {sample} is no Ogg stream")


def _presets(table: bytes) -> list[BankPreset]:
    records = list(struct.iter_unpack("<20s3H3I", table))[:-1]
    return [BankPreset(bank, program, shown(_text(name))) for name, program, bank, *_ in records]


def _text(name: bytes) -> str:
    return name.split(b"\0", 1)[0].decode("latin-1").strip()
