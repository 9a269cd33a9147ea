"""From an exercise's `[ladder]` table to the rules of its ladder; what is wrong is told, and the default stands in."""

import math
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from trainer.music.problem import Problem, nearest
from trainer.practice.ladder_rules import PARAMETERS, LadderRules, Step, Way


class _BadSettingError(ValueError):
    """What is allowed, in words."""


def _number(value: Any, least: float, most: float) -> float:
    number = isinstance(value, int | float | Fraction) and not isinstance(value, bool)
    if not number or not least <= value <= most:
        raise _BadSettingError(f"a number from {least:g} to {most:g}")
    return float(value)


def _whole(value: Any, least: float, most: float) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise _BadSettingError(f"a whole number from {least:g} to {most:g}")
    return value


def _per_cent(value: Any, least: float, most: float) -> float:
    """12, "12" or "12%"."""
    if isinstance(value, str):
        try:
            value = float(value.strip().removesuffix("%"))
        except ValueError:
            value = None
    return _number(value, least, most)


def _step(value: Any, least: float, most: float) -> Step:
    """4, "4" (bpm) or "3%"."""
    unit = "%" if isinstance(value, str) and value.strip().endswith("%") else "bpm"
    try:
        return Step(_per_cent(value, least, most), unit)
    except _BadSettingError:
        raise _BadSettingError(f'bpm as "4" or per cent as "3%", from {least:g} to {most:g}') from None


def _way(value: Any, _least: float, _most: float) -> Way:
    ways = [str(way) for way in Way]
    if value not in ways:
        raise _BadSettingError(", ".join(f'"{way}"' for way in ways))
    return Way(value)


_Reader = Callable[[Any, float, float], Any]
_READERS: dict[str, _Reader] = {
    "way": _way,
    "step": _step,
    "smallest": _per_cent,
    "over": _per_cent,
    "rise": _per_cent,
    "lowest": _per_cent,
}
TEMPO_BOUNDS = (10.0, 900.0)
KEYS = ("start", "target", *(parameter.name for parameter in PARAMETERS))
"""What a `[ladder]` table may hold."""


def read_rules(
    table: Mapping[str, Any], *, start_bpm: float | Fraction, target_bpm: float | Fraction, file: str = ""
) -> tuple[LadderRules, tuple[Problem, ...]]:
    """The rules that a `[ladder]` table asks for.

    Args:
        table: what stands under `[ladder]`; start and target may be given here as numbers.
        start_bpm: where the riff's own tempo starts.
        target_bpm: where it leads; when it is under the start, the ladder has one rung.
        file: the exercise file's name, for problems.

    Returns:
        Rules that can be climbed in any case, and what was wrong; whatever was wrong has its default.
    """
    problems: list[Problem] = []

    def wrong(what: str, allowed: str, hint: str = "") -> None:
        problems.append(Problem(file, 0, 0, what, allowed, hint))

    settings: dict[str, Any] = {}
    bounds = {parameter.name: (parameter.least, parameter.most) for parameter in PARAMETERS}
    for key, value in table.items():
        if key not in KEYS:
            near = nearest(key, KEYS)
            wrong(f'[ladder] has no key "{key}"', ", ".join(KEYS), f'Did you mean "{near}"' if near else "")
            continue
        default: _Reader = _whole if key in {"passes", "miss", "not_now", "widen", "mean_of", "burst_bars"} else _number
        try:
            settings[key] = _READERS.get(key, default)(value, *bounds.get(key, TEMPO_BOUNDS))
        except _BadSettingError as bad:
            wrong(f'[ladder] "{key}" cannot be {_shown(value)}', str(bad))
    start = float(settings.pop("start", start_bpm))
    target = float(settings.pop("target", target_bpm))
    if target < start:
        if {"start", "target"} & table.keys():
            wrong(f"[ladder] leads down, from {start:g} to {target:g} bpm", "", "Make the target at least the start")
        target = start
    return LadderRules(start, target, **settings), tuple(problems)


def _shown(value: Any) -> str:
    """The value as it may stand in a sentence, not longer than a line."""
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return repr(value)[:60].replace("'", '"')
