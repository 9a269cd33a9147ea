"""`twinspur compare`: two riffs, parts, exercises or versions side by side."""

import argparse
from dataclasses import dataclass

from trainer.arranging.choosing import choose_riffs
from trainer.arranging.comparison import (
    PartComparison,
    SettingDifference,
    compare,
    comparison_sentences,
    setting_differences,
)
from trainer.arranging.plain_data import plain_data
from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import load
from trainer.commands.line import DONE, CallError
from trainer.commands.terminal import say, say_json
from trainer.music.exercise import Exercise
from trainer.music.part import HarmonyPart
from trainer.music.problem import nearest
from trainer.music.riff import Riff


@dataclass(frozen=True, slots=True)
class RiffComparison:
    """Two riffs side by side."""

    one: str
    """The first riff's name."""
    other: str
    settings: tuple[SettingDifference, ...]
    parts: tuple[PartComparison, ...]
    alone: tuple[tuple[str, str], ...]
    """Parts that only one side has, and which: first or second."""


def options(parser: argparse.ArgumentParser) -> None:
    """The two sides; what is not said of the second is as in the first."""
    parser.add_argument("one", metavar="A", help="an exercise: its id, title or file")
    parser.add_argument("other", metavar="B", nargs="?", help="the other exercise or version (A)")
    parser.add_argument("--riff", metavar="NAME", help="a riff of A (all)")
    parser.add_argument("--with-riff", metavar="NAME", help="the riff to compare it with (of the same name)")
    parser.add_argument("--part", metavar="PART", help="only this part of A")
    parser.add_argument("--with-part", metavar="PART", help="the part to compare it with (of the same name)")
    parser.add_argument("--json", action="store_true", help="print the facts as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Compare part by part."""
    if arguments.with_riff and not arguments.riff:
        raise CallError("--with-riff needs --riff: say which riff is compared with it.")
    if arguments.with_part and not arguments.part:
        raise CallError("--with-part needs --part: say which part is compared with it.")
    if arguments.other is None and not (arguments.with_riff or arguments.with_part):
        raise CallError("Compare what with what? Name a second exercise, or give --with-riff or --with-part.")
    one = _exercise(arguments.one)
    other = one if arguments.other is None else _exercise(arguments.other)
    results = [_compared(riff, answer, arguments) for riff, answer in _riffs(one, other, arguments)]
    if arguments.json:
        say_json([_data(result) for result in results])
        return DONE
    for number, result in enumerate(results):
        _say(result, after_another=number > 0)
    lacking = {
        "first": _names(one, other) if not arguments.riff else [],
        "second": _names(other, one) if not arguments.riff else [],
    }
    for side, names in lacking.items():
        for name in names:
            say(f"{name} is only in the {side}.")
    if not results and not any(lacking.values()):
        say("There is nothing to compare.")
    return DONE


def _exercise(name: str) -> Exercise:
    written, path = load(name)
    return realise_exercise(written, str(path))


def _names(one: Exercise, other: Exercise) -> list[str]:
    return [riff.name for riff in one.riffs if other.riff(riff.name) is None]


def _riffs(one: Exercise, other: Exercise, arguments: argparse.Namespace) -> list[tuple[Riff, Riff]]:
    """Riffs that are compared; raises ProblemsError for one that is not there."""
    if arguments.riff:
        [riff] = choose_riffs(one, arguments.riff)
        [answer] = choose_riffs(other, arguments.with_riff or riff.name)
        return [(riff, answer)]
    pairs = [(riff, other.riff(riff.name)) for riff in one.riffs]
    return [(riff, answer) for riff, answer in pairs if answer is not None]


def _compared(riff: Riff, answer: Riff, arguments: argparse.Namespace) -> RiffComparison:
    """Two riffs, part by part. Raises CallError for an unknown part and for a kit beside strings."""
    names = [(name, name) for name in riff.part_names]
    if arguments.part:
        names = [(arguments.part, arguments.with_part or arguments.part)]
        for name, side in zip(names[0], (riff, answer), strict=True):
            if side.part(name) is None:
                meant = nearest(name, list(side.part_names))
                hint = f'Did you mean "{meant}"?' if meant else f"It has {', '.join(side.part_names)}."
                raise CallError(f'{side.name} has no part "{name}". {hint}')
    found, alone = [], []
    for name, with_name in names:
        mine, theirs = riff.part(name), answer.part(with_name)
        if theirs is None:
            alone.append((name, "first"))
        elif mine is not None and not isinstance(mine, HarmonyPart) and not isinstance(theirs, HarmonyPart):
            comparison = compare(mine, riff, theirs, answer)
            if comparison is None:
                raise CallError(f"{name} and {with_name} cannot be compared: only one of them has pitches.")
            found.append(comparison)
    if not arguments.part:
        alone += [(name, "second") for name in answer.part_names if riff.part(name) is None]
    settings = () if riff is answer else setting_differences(riff, answer)
    return RiffComparison(riff.name, answer.name, settings, tuple(found), tuple(alone))


def _say(found: RiffComparison, *, after_another: bool) -> None:
    title = found.one if found.one == found.other else f"{found.one} and {found.other}"
    say(("\n" if after_another else "") + title, strong=True)
    for one in found.settings:
        say(f"{one.what.capitalize()}: {one.one} in the first, {one.other} in the second.")
    for part in found.parts:
        say("\n" + (part.one if part.one == part.other else f"{part.one} and {part.other}"))
        for sentence in comparison_sentences(part):
            say(f"  {sentence}")
    for name, side in found.alone:
        say(f"\n{name} is only in the {side}.")


def _data(found: RiffComparison) -> dict[str, object]:
    return {
        "riff": found.one,
        "with": found.other,
        "settings": plain_data(found.settings),
        "parts": [{**plain_data(one), "sentences": list(comparison_sentences(one))} for one in found.parts],
        "only_in": [{"part": name, "side": side} for name, side in found.alone],
    }
