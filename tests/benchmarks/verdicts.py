"""Every figure of the verdicts on takes with known truth, to the last digit: what a change of the code must not move.

`TWINSPUR_TAKES=FOLDER python -m tests.benchmarks.verdicts [--save FILE] [--compare FILE]`

Each take of the folder (`tests/listening/truth.py`) is judged as sound from nothing but the written part, against
another take's part, as a pass cut out of a longer recording with and without a calibrated start, and by MIDI where
its performance is there as well.
`--save` writes all figures as JSON; `--compare` prints those that differ from a saved file, and then exits 1. A saved
file comes from another checkout: `PYTHONPATH=OTHER python tests/benchmarks/verdicts.py --save FILE`.
"""

import argparse
import json
import os
import sys
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

from tests.listening.truth import TrueTake, true_takes
from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement, judge_cut_pass, judge_midi, judge_sound
from trainer.listening.midi_take import read_midi_take
from trainer.listening.written import WrittenPart, WrittenStroke

MOST_SHOWN = 40
"""Differences that are printed."""


def judgements(take: TrueTake, folder: Path, other: WrittenPart) -> Iterator[tuple[str, Judgement]]:
    """The judgements on one take, each with how it was reached; one of them against another take's part."""
    yield "sound", judge_sound(take.sound, take.written)
    yield "another part", judge_sound(take.sound, other)
    start = start_of(take)
    yield "pass", judge_cut_pass(take.sound, start, take.written)
    yield "calibrated pass", judge_cut_pass(take.sound, start, take.written, Bands(), known=True, within_ms=2.0)
    midi = folder / f"{take.name}.mid"
    if midi.is_file():
        yield "midi", judge_midi(read_midi_take(midi), take.written)


def start_of(take: TrueTake) -> float:
    """Second of the take at which its part begins, by its truth."""
    first = take.notes[0]
    return float(first["expected"]) - float(take.written.strokes[first["i"]].at)


def figures(value: Any) -> Any:
    """A value of ours as JSON can hold it, every float as it is; a written stroke by its place and time only."""
    if isinstance(value, WrittenStroke):
        return f"{value.place} at {value.at}"
    if isinstance(value, WrittenPart):
        return f"{len(value.strokes)} strokes in {value.length} s"
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: figures(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): figures(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [figures(each) for each in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Fraction):
        return str(value)
    if value is None or isinstance(value, bool | int | str):
        return value
    return float(value).hex()


def differences(before: Any, after: Any, where: str = "") -> Iterator[str]:
    """Every place at which two sets of figures differ, as a line."""
    if isinstance(before, dict) and isinstance(after, dict):
        for key in dict.fromkeys([*before, *after]):
            yield from differences(before.get(key), after.get(key), f"{where} · {key}" if where else str(key))
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for number, (one, other) in enumerate(zip(before, after, strict=True)):
            yield from differences(one, other, f"{where} [{number}]")
    elif before != after:
        yield f"{where}: {_shown(before)} before, {_shown(after)} now"


def _shown(value: Any) -> str:
    try:
        return repr(float.fromhex(value)) if isinstance(value, str) and "0x" in value else repr(value)[:80]
    except ValueError:
        return repr(value)[:80]


def main() -> int:
    """Judge, print one line a take, save and compare."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--takes", type=Path, default=os.environ.get("TWINSPUR_TAKES"), help="the folder of takes")
    parser.add_argument("--save", type=Path, metavar="FILE", help="write all figures there")
    parser.add_argument("--compare", type=Path, metavar="FILE", help="compare with the figures saved there")
    options = parser.parse_args()
    if options.takes is None or not Path(options.takes).is_dir():
        print("No takes with known truth: name their folder with TWINSPUR_TAKES.")
        return 0
    folder = Path(options.takes)
    found: dict[str, Any] = {}
    takes = true_takes(folder)
    for take, after in zip(takes, takes[1:] + takes[:1], strict=True):
        found[take.name] = {}
        for how, judgement in judgements(take, folder, after.written):
            found[take.name][how] = figures(judgement)
            measured = judgement.verdict.measured
            told = "" if measured is None else f"spread {measured.spread_ms} ms, {measured.matched} of {measured.notes}"
            print(f"{take.name:<32} {how:<16} {judgement.verdict.outcome:<10} {told}", flush=True)
    if options.save:
        options.save.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", "utf-8")
    if not options.compare:
        return 0
    lines = list(differences(json.loads(options.compare.read_text("utf-8")), found))
    print(*lines[:MOST_SHOWN], sep="\n")
    print(f"{len(lines)} figures differ." if lines else "All figures are the same to the last digit.")
    return 1 if lines else 0


if __name__ == "__main__":
    sys.exit(main())
