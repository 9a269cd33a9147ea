"""Damaged files of every kind that is read: `python -m tests.benchmarks.mutants [--count 10000] [--kinds exercise,…]`.

Each mutant is a good file with a few bytes, lines, words or numbers lost, doubled, swapped or made strange, the same
for the same seed. It must be read, or told in a sentence (`ProblemsError`), within a second of processor time. A whole
kind, read one after another in a process of its own, may use 200 MiB more than its good files did.
"""

import argparse
import io
import multiprocessing
import random
import resource
import sys
import tempfile
import time
import traceback
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.exchange.mutants import elements_lost, mutants

ROOT = Path(__file__).parents[2]
KEPT = ROOT / "tests" / "kept_0_1_0"
SECONDS, MIB = 1.0, 200.0

Read = Callable[[bytes, Path], object]
"""Reads a file's bytes, with a folder of its own to put them into where the reader wants a path."""


@dataclass(slots=True)
class Found:
    """What became of the mutants of one kind."""

    read: int = 0
    told: int = 0
    wrong: list[str] = field(default_factory=list)
    """Those that were neither, and how they ended."""
    slowest_s: float = 0.0
    slowest_at: str = ""
    """Which good file, and which mutant of it."""
    more_mib: float = 0.0


@dataclass(frozen=True, slots=True)
class Kind:
    """Good files of one kind, and what reads them."""

    good: Callable[[], list[bytes]]
    read: Read
    damage: Callable[[bytes, int, int], list[bytes]]


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape")


def _written(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


# -- readers --------------------------------------------------------------------------------------------------------


def _exercise(data: bytes, folder: Path) -> object:
    from trainer.arranging.realise import realise_exercise
    from trainer.notation.files import read_file

    return realise_exercise(read_file(_written(folder, "mutant.md", data)), "mutant.md")


def _settings(data: bytes, folder: Path) -> object:
    from trainer.settings import read_settings

    return read_settings(_written(folder, "config.toml", data))


def _patch(data: bytes, folder: Path) -> object:
    from trainer.sounds.load_patches import load_patches

    _written(folder, "mutant.toml", data)
    return load_patches([ROOT / "patches", folder])


def _log(data: bytes, folder: Path) -> object:
    from trainer.practice.export import read_export

    return read_export(_text(data).splitlines(keepends=True), "log.json")


def _set(data: bytes, folder: Path) -> object:
    from trainer.exchange.set_file import read_set

    return read_set(_written(folder, "mutant.twinset", data))


def _takes(data: bytes, folder: Path) -> object:
    from trainer.listening.takes import Takes

    _written(folder, "2031-05-04-180000.json", data)
    _written(folder, "2031-05-04-180000.mid", b"MThd")
    return Takes(folder, 1 << 30).all()


def _midi(data: bytes, folder: Path) -> object:
    from trainer.listening.midi_take import read_midi_take

    return read_midi_take(_written(folder, "mutant.mid", data))


def _sound(data: bytes, folder: Path) -> object:
    from trainer.listening.read_sound import read_sound

    return read_sound(_written(folder, "mutant.flac", data))


def _score(data: bytes, folder: Path) -> object:
    from trainer.exchange.any_score import read_score
    from trainer.exchange.assemble import assemble

    return assemble(read_score(data, "mutant.musicxml"))


def _assignments(data: bytes, folder: Path) -> object:
    from trainer.exchange.assignment import read_assignments

    return read_assignments(_text(data), "mutant.toml")


def _plain(data: bytes, folder: Path) -> object:
    from trainer.notation.plain_exercise import Wishes, read_plain

    return read_plain(_text(data), Wishes())


# -- good files -----------------------------------------------------------------------------------------------------


def _exercises() -> list[bytes]:
    return [path.read_bytes() for path in sorted((ROOT / "exercises").glob("*.md")) if path.name != "README.md"]


def _scores() -> list[bytes]:
    from trainer.arranging.realise import realise_exercise
    from trainer.exchange.musicxml_out import musicxml
    from trainer.notation.read import read

    names = ("lamplighters.md", "iron-causeway.md")
    return [
        musicxml(realise_exercise(read((ROOT / "exercises" / name).read_text("utf-8"), name), name)).encode()
        for name in names
    ]


def _sets() -> list[bytes]:
    from tests.exchange.test_set_file import FILES, MANIFEST
    from trainer.exchange.set_file import write_set

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "good.twinset"
        write_set(path, MANIFEST, FILES)
        return [path.read_bytes()]


def _midis() -> list[bytes]:
    import mido

    made = mido.MidiFile(type=1, ticks_per_beat=480)
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=400_000))
    track.append(mido.MetaMessage("time_signature", numerator=7, denominator=8))
    for number in range(60):
        key = 40 + number % 12
        track.append(mido.Message("note_on", channel=number % 6, note=key, velocity=90, time=30))
        track.append(mido.Message("pitchwheel", channel=number % 6, pitch=100 * number, time=30))
        track.append(mido.Message("note_off", channel=number % 6, note=key, velocity=64, time=60))
    made.tracks.append(track)
    out = io.BytesIO()
    made.save(file=out)
    return [out.getvalue()]


def _sounds() -> list[bytes]:
    import numpy as np
    import soundfile

    wave = (0.3 * np.sin(np.arange(24_000) / 20)).astype(np.float32)
    found = []
    for form, kind in (("FLAC", "PCM_16"), ("WAV", "FLOAT"), ("OGG", "VORBIS")):
        out = io.BytesIO()
        soundfile.write(out, wave, 48_000, format=form, subtype=kind)
        found.append(out.getvalue())
    return found


ASSIGNMENT = b"""
from = "Maro Tell"

[assignments.gallop]
exercise = "iron-causeway"
riff = "Low road"
part = "guitar 1"
bars = [1, 2]
tempo = 120
by = 2031-06-01
minutes = 10
note = "Keep the wrist loose."
"""

PLAIN = b"""Low Tide, 120 bpm

    1 e & a 2 e & a 3 e & a 4 e & a
e|--------------------------------|
B|--------------------------------|
G|--------------------------------|
D|--------------------------------|
A|------------5-------3h5p3-------|
E|0-0-0-3b5-0-----7/9-------5~--x-|
   PM----|
"""


def _old(*names: str) -> Callable[[], list[bytes]]:
    return lambda: [path.read_bytes() for name in names for path in sorted(KEPT.rglob(name))]


# -- damage ---------------------------------------------------------------------------------------------------------

STRANGE = (
    "", " ", "\t", "\x00", "\x1b[31m", "\u202e", "é", "\uff03", "9" * 40, "-1", "1e308", "nan", "0x" + "f" * 40,
    "[[", "]]", '"', "'''",
    "+++", "```", "|", "%", "x9999", "##", "= = =", "{ }", "1979-05-27", "\u00a0" * 60, "{" * 50,
)  # fmt: skip


def words_changed(data: bytes, count: int, seed: int) -> list[bytes]:
    """Copies with words, lines and characters lost, doubled, swapped or replaced by strange ones; some with bytes."""
    chance, text = random.Random(seed), _text(data)
    return [*mutants(data, count // 5, seed), *(_changed(text, chance) for _ in range(count - count // 5))]


def _changed(text: str, chance: random.Random) -> bytes:
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        kind = chance.randrange(5)
        lines = text.splitlines(keepends=True) or [""]
        at = chance.randrange(len(lines))
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(at, chance.choice(lines))
        elif kind == 2:
            other = chance.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == 3:
            words = lines[at].split(" ")
            words[chance.randrange(len(words))] = chance.choice(STRANGE)
            lines[at] = " ".join(words)
        else:
            place = chance.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:place] + chance.choice(STRANGE) + lines[at][place + chance.randrange(3) :]
        text = "".join(lines)
    return text.encode("utf-8", "surrogateescape")


def members_changed(data: bytes, count: int, seed: int) -> list[bytes]:
    """Copies of an archive, half of them damaged as files, half packed anew with one member changed."""
    chance, found = random.Random(seed), mutants(data, count // 2, seed)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    for _ in range(count - len(found)):
        changed = dict(members)
        name = chance.choice(sorted(changed))
        changed[name] = _changed(_text(changed[name]), chance)
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            for each, content in changed.items():
                archive.writestr(each, content)
        found.append(out.getvalue())
    return found


def elements_changed(data: bytes, count: int, seed: int) -> list[bytes]:
    """Copies of an XML text, half of them still well-formed."""
    half = [text.encode() for text in elements_lost(data.decode("utf-8"), count // 2, seed)]
    return [*half, *mutants(data, count - len(half), seed)]


KINDS = {
    "exercise": Kind(_exercises, _exercise, words_changed),
    "settings": Kind(_old("config.toml"), _settings, words_changed),
    "patch": Kind(lambda: [p.read_bytes() for p in sorted((ROOT / "patches").glob("*.toml"))], _patch, words_changed),
    "log": Kind(_old("log.json", "log.csv"), _log, words_changed),
    "set": Kind(_sets, _set, members_changed),
    "take": Kind(_old("*[0-9].json"), _takes, words_changed),
    "midi": Kind(_midis, _midi, mutants),
    "sound": Kind(_sounds, _sound, mutants),
    "score": Kind(_scores, _score, elements_changed),
    "assignments": Kind(lambda: [ASSIGNMENT], _assignments, words_changed),
    "plain tab": Kind(lambda: [PLAIN], _plain, words_changed),
}


def _shares(count: int, among: int) -> Iterator[int]:
    for number in range(among):
        yield count * (number + 1) // among - count * number // among


def try_kind(name: str, count: int, seed: int) -> Found:
    """Read so many mutants of a kind."""
    kind, found = KINDS[name], Found()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        good = kind.good()
        assert good, f"no good file of kind {name}"
        for data in good:
            kind.read(data, folder)
        before = _most_mib()
        for index, (data, share) in enumerate(zip(good, _shares(count, len(good)), strict=True)):
            for number, mutant in enumerate(kind.damage(data, share, seed + index)):
                begun = time.process_time()
                _read_one(kind, mutant, folder, found, f"{index}/{number}")
                took = time.process_time() - begun
                if took > found.slowest_s:
                    found.slowest_s, found.slowest_at = took, f"{index}/{number}"
        found.more_mib = _most_mib() - before
    return found


def _read_one(kind: Kind, mutant: bytes, folder: Path, found: Found, which: str) -> None:
    from trainer.music.problem import ProblemsError

    try:
        kind.read(mutant, folder)
        found.read += 1
    except ProblemsError as told:
        found.told += 1
        if not all(each.what for each in told.problems):
            found.wrong.append(f"{which}: a problem without words")
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        found.wrong.append(f"{which}: {error!r} at {last.filename}:{last.lineno}"[:400])


def _most_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> int:
    """Read mutants of each kind; 1 where one was neither read nor told, or too slowly, or with too much memory."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=10_000, help="of each kind")
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    bad = 0
    for name in asked.kinds.split(","):
        with multiprocessing.get_context("spawn").Pool(1) as pool:
            found = pool.apply(try_kind, (name, asked.count, asked.seed))
        print(
            f"{name:12} {found.read:6} read, {found.told:6} told, {len(found.wrong):4} neither; "
            f"slowest {found.slowest_s:5.2f} s ({found.slowest_at}), {found.more_mib:+5.0f} MiB",
            flush=True,
        )
        for each in found.wrong[:5]:
            print(f"    {each}")
        bad += bool(found.wrong) or found.slowest_s > SECONDS or found.more_mib > MIB
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
