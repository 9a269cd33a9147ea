"""What the commands that listen share: by which bands takes are judged, how, and the takes in a file."""

import argparse
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.line import CallError
from trainer.listening.bands import Bands
from trainer.music.problem import nearest
from trainer.settings import BANDS, Settings, bands_of

if TYPE_CHECKING:
    from trainer.commands.subject import Subject
    from trainer.listening.judging import Judgement
    from trainer.listening.midi_take import MidiTake
    from trainer.listening.sound import Sound
    from trainer.listening.written import WrittenPart

LEFT, RIGHT, BOTH = SIDES = ("left", "right", "both")
NO_TEMPO = "The target and the start tempo were tried: say with --tempo how fast it was played."
LONGEST_FOR, LEAST_S = 2.0, 5.0
"""As many passes are looked for as last no longer than so many times the take, and some seconds."""
SURELY = (True, 1.7)
"""Of `_followed`: nearly all strokes found, at their pitches, not far around their places."""


def bands_option(parser: argparse.ArgumentParser) -> None:
    """By which bands."""
    parser.add_argument(
        "--bands",
        metavar="NAME=VALUE,…",
        help=f"how late is late: {', '.join(BANDS)} in ms (stray: a share, 0 to 1), such as good=15,fair=30",
    )


def side_option(parser: argparse.ArgumentParser) -> None:
    """Which side of a stereo file."""
    parser.add_argument(
        "--side", choices=SIDES, help="one side of a stereo file, or both as one guitar (default: each is a take)"
    )


def bands_asked(arguments: argparse.Namespace, settings: Settings) -> Bands:
    """The bands of the settings with what was asked for. Raises CallError."""
    text = arguments.bands
    if not text:
        return settings.bands
    values: dict[str, float] = {}
    for item in text.split(","):
        name, _, value = (word.strip() for word in item.partition("="))
        if name not in BANDS:
            meant = nearest(name, tuple(BANDS))
            hint = f" Did you mean {meant}?" if meant else ""
            raise CallError(f'--bands: "{name}" is none of {", ".join(BANDS)}.{hint}')
        _, low, high = BANDS[name]
        if not re.fullmatch(r"\d{1,3}(\.\d{1,4})?", value, re.ASCII) or not low <= float(value) <= high:
            raise CallError(f"--bands: {name} cannot be {value or 'empty'}: {low:g} to {high:g}.")
        values[name] = float(value)
    try:
        return bands_of(values, settings.bands)
    except ValueError as error:
        raise CallError(f"--bands cannot be {text}: {str(error).rstrip('.')}.") from None


@dataclass(frozen=True, slots=True)
class FileTake:
    """One take of a file."""

    path: Path
    side: str
    """`left` or `right` where the file holds two; else empty."""
    take: "Sound | MidiTake"

    @property
    def name(self) -> str:
        """How it is called: the file's name, and the side."""
        return f"{self.path.name} ({self.side})" if self.side else self.path.name


def takes_of(path: Path, side: str | None = None) -> tuple[FileTake, ...]:
    """The takes in a file, or the one that is asked for. Raises ProblemsError where it cannot be read."""
    import numpy as np

    from trainer.listening.sound import Sound
    from trainer.listening.take_file import read_take

    found = read_take(path)
    if len(found) == 1:
        return (FileTake(path, "", found[0]),)
    takes = tuple(FileTake(path, name, take) for name, take in zip(SIDES, found, strict=False))
    if side == BOTH:
        left, right = (take for take in found if isinstance(take, Sound))
        return (FileTake(path, "", Sound((left.samples + right.samples) * np.float32(0.5), left.rate)),)
    return takes if side is None else (takes[SIDES.index(side)],)


def judge(
    take: "Sound | MidiTake", target: "Subject", part: str, bands: Bands, start_s: float | None = None
) -> "tuple[Judgement, WrittenPart]":
    """Judge one take against a part, at the tempo at which it can be followed best.

    The first tempo at which it is surely followed is taken; where none is, half and twice the best are tried too.
    """
    from trainer.listening.judging import JudgeSettings as Judging
    from trainer.listening.judging import judge as judged_at
    from trainer.listening.judging import unjudged

    tried: list[tuple[Judgement, WrittenPart]] = []
    alone = len(target.tempos) == 1
    fewer = _passes_too_many(take, target, part)
    if fewer:
        return unjudged(fewer), target.written(part, target.tempos[0], passes=1)
    for tempo in target.tempos:
        written = target.written(part, tempo)
        told = judged_at(take, written, Judging(bands, start_s, other_tempos=alone))
        tried.append((told, written))
        if _followed(told) >= SURELY:
            break
    told, written = max(tried, key=lambda each: _followed(each[0]))
    if alone or told.verdict.counts:
        return told, written
    return _sounds_like(take, tried, bands) or (replace(told, warnings=(*told.warnings, NO_TEMPO)), written)


def _sounds_like(
    take: "Sound | MidiTake", tried: "list[tuple[Judgement, WrittenPart]]", bands: Bands
) -> "tuple[Judgement, WrittenPart] | None":
    """What a take sounds like that could not be followed at any tempo, if that is half or twice one of them."""
    from trainer.listening.judging import sounds_like, unjudged
    from trainer.listening.sound import Sound

    for told, written in tried:
        if isinstance(take, Sound) and told.performance is not None:
            said = sounds_like(take, told.performance, bands)
            if said:
                return unjudged(said, told.performance, told.warnings), written
    return None


def _passes_too_many(take: "Sound | MidiTake", target: "Subject", part: str) -> str:
    """Why a take cannot hold so many passes; empty where it can. Some of the passes may be missing, not most."""
    from trainer.listening.soundness import clock

    if target.passes == 1:
        return ""
    lengths = [float(target.written(part, tempo, passes=1).length) * target.passes for tempo in target.tempos]
    seconds = take.seconds
    if min(lengths) <= LONGEST_FOR * seconds + LEAST_S:
        return ""
    what = f"{target.passes} passes last {clock(min(lengths))}"
    return f"The take lasts {clock(seconds)}, but {what}: say with --passes how often it was played."


def _followed(judgement: "Judgement") -> tuple[bool, float]:
    """How well a take was followed, for comparing one tempo with another."""
    performance, timing = judgement.performance, judgement.timing
    if performance is None:
        return judgement.verdict.counts, 0.0
    spread = timing.spread_ms / 100 if timing else 1.0
    return judgement.verdict.counts, performance.followed + performance.agreed - spread
