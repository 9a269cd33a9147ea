"""Takes with known truth, and how well a hearing of them agrees with it.

A folder of takes holds for each `NAME.flac` a `NAME.json` with tempo, written part, played notes and string noises.
Onsets are compared after the median offset of each take is taken out, as an uncalibrated offset is nobody's fault.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from trainer.listening.hearing import Hearing
from trainer.listening.sound import Sound
from trainer.listening.written import GallopNote, WrittenPart, WrittenStroke

FIGURES = {None: GallopNote.NONE, "e": GallopNote.LONG, "s1": GallopNote.FIRST_SHORT, "s2": GallopNote.SECOND_SHORT}
SAME_S = 0.03


@dataclass(frozen=True)
class TrueTake:
    """A take and what was really played."""

    name: str
    sound: Sound
    written: WrittenPart
    notes: tuple[dict[str, Any], ...]
    ghosts: tuple[float, ...]
    drive: float = 0.0
    """Of the amplifier in the take's own chain; 0 for a direct signal."""

    @property
    def chords(self) -> bool:
        return all(len(stroke.pitches) > 1 for stroke in self.written.strokes)

    @property
    def recorded(self) -> bool:
        return "fluid" not in self.name

    @property
    def onsets(self) -> list[float]:
        return [note["onset"] for note in self.notes if note["onset"] is not None]

    @property
    def of_stroke(self) -> dict[int, dict[str, Any]]:
        return {note["i"]: note for note in self.notes if note["i"] is not None}


def true_takes(folder: Path) -> list[TrueTake]:
    """Every take of a folder, in order of name."""
    found = []
    for path in sorted(folder.glob("*.json")):
        values = json.loads(path.read_text("utf-8"))
        if not isinstance(values, dict) or "score" not in values:
            continue
        samples, rate = soundfile.read(path.with_suffix(".flac"), dtype="float32")
        notes = tuple(values["notes"])
        ghosts = tuple(ghost["t"] for ghost in values["ghosts"])
        found.append(
            TrueTake(path.stem, Sound(samples, rate), written(values), notes, ghosts, values["chain"]["drive"])
        )
    return found


def written(values: dict[str, Any]) -> WrittenPart:
    """The written part of a take's truth, in 4/4."""
    beat = Fraction(60) / Fraction(values["bpm"])
    strokes = []
    for item in values["score"]:
        at, length = (Fraction(item[key]).limit_denominator(48) for key in ("beat", "dur"))
        strokes.append(
            WrittenStroke(
                at * beat, length * beat, tuple(item["pitches"]), int(at // 4) + 1, str(at % 4 + 1),
                slurred=item["art"] == "hammer", figure=FIGURES[item["role"]], muted=item["art"] == "pm",
                offset=at / 4,
            )
        )  # fmt: skip
    return WrittenPart(tuple(strokes), strokes[-1].at + strokes[-1].length, values["bpm"])


@dataclass
class Agreement:
    """Counts over takes."""

    played: int = 0
    heard: int = 0
    errors_ms: list[float] = field(default_factory=list)
    biases_ms: list[float] = field(default_factory=list)
    missed: list[int] = field(default_factory=lambda: [0, 0, 0])
    """True, told, both."""
    wrong: list[int] = field(default_factory=lambda: [0, 0, 0])
    extra: list[int] = field(default_factory=lambda: [0, 0, 0])
    ghosts: list[int] = field(default_factory=lambda: [0, 0])
    """All, and those reported as notes."""

    def f_measure(self, within_ms: float) -> float:
        close = sum(error <= within_ms for error in self.errors_ms)
        return 2 * close / max(1, self.played + self.heard)

    def merge(self, other: "Agreement") -> None:
        """Count in what was counted elsewhere."""
        self.played += other.played
        self.heard += other.heard
        self.errors_ms += other.errors_ms
        self.biases_ms += other.biases_ms
        for name in ("missed", "wrong", "extra", "ghosts"):
            setattr(self, name, [a + b for a, b in zip(getattr(self, name), getattr(other, name), strict=True)])

    def add(self, take: TrueTake, hearing: Hearing) -> None:
        truth = take.of_stroke
        told = {k: heard for k, heard in enumerate(hearing.strokes) if heard is not None}
        offs = {k: (told[k].at_s - truth[k]["onset"]) * 1000 for k in told if truth[k]["onset"] is not None}
        bias = float(np.median(list(offs.values()))) if offs else 0.0
        self.played += sum(note["onset"] is not None for note in truth.values())
        self.heard += len(told)
        self.errors_ms += [abs(off - bias) for off in offs.values()]
        self.biases_ms.append(bias)
        absent = {k for k, note in truth.items() if note["onset"] is None}
        strange = {k for k, note in truth.items() if note["status"] == "wrong"}
        _count(self.missed, absent, set(truth) - set(told))
        _count(self.wrong, strange, {k for k in told if told[k].shift})
        true_extras = [note["onset"] for note in take.notes if note["status"] == "extra"]
        extras = [extra.at_s - bias / 1000 for extra in hearing.extras]
        self.extra[0] += len(true_extras)
        self.extra[1] += len(extras)
        self.extra[2] += sum(any(abs(at - other) < SAME_S for other in extras) for at in true_extras)
        self.ghosts[0] += len(take.ghosts)
        self.ghosts[1] += sum(any(abs(at - other) < SAME_S for other in extras) for at in take.ghosts)


def _count(counts: list[int], true: set[int], told: set[int]) -> None:
    for place, members in enumerate((true, told, true & told)):
        counts[place] += len(members)


def precision(counts: list[int]) -> float:
    return counts[2] / counts[1] if counts[1] else 1.0


def recall(counts: list[int]) -> float:
    return counts[2] / counts[0] if counts[0] else 1.0


def onset_agreement(onsets: Iterable[float], take: TrueTake, agreement: Agreement) -> None:
    """A general detector's onsets against all that was played, its own median offset taken out."""
    found = np.sort(np.array(list(onsets)))
    true = np.array(take.onsets)
    agreement.played += len(true)
    agreement.heard += len(found)
    if not len(found):
        return
    near = found[np.abs(found[None, :] - true[:, None]).argmin(axis=1)] - true
    bias = float(np.median(near[np.abs(near) < 0.06])) if (np.abs(near) < 0.06).any() else 0.0
    free = list(found - bias)
    for at in true:
        best = min(free, key=lambda other: abs(other - at), default=None)
        if best is not None and abs(best - at) < 0.05:
            free.remove(best)
            agreement.errors_ms.append(abs(best - at) * 1000)
    agreement.biases_ms.append(bias * 1000)
