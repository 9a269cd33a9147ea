"""What `play` and `render` share: the options that say what sounds and how, and the timeline and plan they make."""

import argparse
import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import choose_riff, exercise_option, load
from trainer.commands.line import CallError
from trainer.commands.own_machine import machine
from trainer.music.exercise import Exercise
from trainer.music.problem import nearest
from trainer.playback.click_track import BEATS, SilentBars
from trainer.playback.mix import CLICK, Mix
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import MOST_COUNT_IN, Plan
from trainer.playback.share import Climb, NextShare, PassReport, parse_share
from trainer.playback.timeline import Timeline
from trainer.session.own_sound import bank_of
from trainer.settings import Settings
from trainer.sounds.sound_bank import check_bank

FOREVER = "forever"
MOST_PASSES = 10_000


def playing_options(parser: argparse.ArgumentParser) -> None:
    """The options of both commands."""
    exercise_option(parser)
    parser.add_argument("--bars", metavar="3-6", help="only these bars, counted from 1")
    parser.add_argument("--tempo", metavar="96|60%", help="in bpm, or in per cent of the target")
    mix_options(parser)
    parser.add_argument("--click", metavar="PATTERN", help="the click's pattern (see twinspur sounds), or none")
    parser.add_argument("--silent-bars", metavar="2:1", help="two bars with the click, one without, and so on")
    parser.add_argument("--count-in", metavar="N", help="bars counted in, 0 to 4")
    parser.add_argument("--passes", metavar="N", help="how often it is played, or forever")
    parser.add_argument("--climb", metavar="4|3%", help="raise the tempo with each pass, up to the target")
    parser.add_argument("--human", metavar="SEED", type=int, help="small human differences between the guitars")
    parser.add_argument("--bank", metavar="FILE", type=Path, help="the sound bank (SoundFont) to play with")


def mix_options(parser: argparse.ArgumentParser) -> None:
    """Who is heard."""
    parser.add_argument("--only", metavar="PART", action="append", help="hear only this part (click: the click alone)")
    parser.add_argument("--without", metavar="PART", action="append", help="leave this part out")
    parser.add_argument(
        "--level", metavar="PART=DB", action="append", help="raise or lower a part, or the click, in dB"
    )
    parser.add_argument("--pan", metavar="PART=X", action="append", help="put a part between -1 (left) and 1 (right)")


@dataclass(frozen=True, slots=True)
class Playing:
    """What is to be played, ready for a transport."""

    exercise: Exercise
    timeline: Timeline
    plan: Plan
    next_share: NextShare | None
    """The tempo of each pass after the first."""
    bank: Path
    settings: Settings


def prepare(arguments: argparse.Namespace, *, at_start: bool, default_click: str | None) -> Playing:
    """Read the exercise and the options.

    Args:
        arguments: what `playing_options` declared.
        at_start: whether it is played at the start tempo where none is asked for, else at the target.
        default_click: the click pattern where none is asked for; None for no click.

    Raises:
        ProblemsError: for what is wrong in files.
        CallError: for what is wrong in the options.
    """
    settings, rig = machine().settings(), machine().rig
    exercise, path = load(arguments.exercise)
    exercise = realise_exercise(exercise, str(path))
    riffs = (choose_riff(exercise, arguments.riff),) if arguments.riff else exercise.played
    tempo = riffs[0].tempo if arguments.riff else exercise.tempo
    piece = Piece.of(exercise, riffs)
    share = parse_share(arguments.tempo, tempo.target) if arguments.tempo else Fraction(1)
    if at_start and not arguments.tempo:
        share = tempo.start / tempo.target
    alone = [name.strip().casefold() for name in arguments.only or ()] == [CLICK]
    name = arguments.click or default_click or (BEATS.name if alone else None)
    plan = Plan(
        loop=loop_of(arguments.bars, piece),
        share=share,
        passes=passes_of(arguments.passes),
        count_in=number_of("--count-in", arguments.count_in, 0, MOST_COUNT_IN, 1 if at_start else 0),
        click=None if name in (None, "none") else rig.click_pattern(str(name)),
        silent_bars=_silent_bars(arguments.silent_bars),
        mix=mix_of(arguments, piece),
        human_seed=arguments.human,
    )
    bank = arguments.bank or bank_of(settings)
    fitted = rig.fitted_to(check_bank(bank))
    climb = _climb(arguments.climb, piece.target_bpm(plan.loop.first))
    return Playing(exercise, Timeline.of(piece, fitted), plan, climb, bank, settings)


def _climb(text: str | None, target_bpm: Fraction) -> NextShare | None:
    if text is None:
        return None
    climb = Climb.parse(text)

    def following(report: PassReport) -> Fraction:
        return climb.after(report.share, target_bpm)

    return following


def number_of(option: str, text: str | None, low: int, high: int, default: int) -> int:
    """The whole number that an option asks for. Raises CallError."""
    if text is None:
        return default
    if not re.fullmatch(r"\d{1,6}", text, re.ASCII) or not low <= int(text) <= high:
        raise CallError(f"{option} cannot be {text}: a whole number from {low} to {high}.")
    return int(text)


def _silent_bars(text: str | None) -> SilentBars | None:
    try:
        return None if text is None else SilentBars.parse(text)
    except ValueError:
        raise CallError(f"--silent-bars cannot be {text}: heard and silent bars, such as 2:1.") from None


def passes_of(text: str | None) -> int | None:
    """How many passes are asked for; None for ever. Raises CallError."""
    if text == FOREVER or text is None:
        return None
    if not re.fullmatch(r"\d{1,6}", text, re.ASCII) or not 1 <= int(text) <= MOST_PASSES:
        raise CallError(f"--passes cannot be {text}: a whole number from 1 to {MOST_PASSES}, or {FOREVER}.")
    return int(text)


def loop_of(asked: str | tuple[int, int] | None, piece: Piece) -> Loop:
    """The bars that are asked for, all of them where none are. Raises CallError.

    Args:
        asked: as a player writes them (`3-6` or `3`), or the first and the last one; counted from 1.
        piece: where they are.
    """
    if not asked:
        return piece.whole
    bars = len(piece.bars)
    if isinstance(asked, str):
        found = re.fullmatch(r"(\d{1,6})(?:-(\d{1,6}))?", asked.strip(), re.ASCII)
        first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    else:
        first, last = asked
        asked = f"{first}-{last}"
    if not 1 <= first <= last <= bars:
        raise CallError(f"--bars cannot be {asked}: bars 1 to {bars}, such as 1-{min(4, bars)}.")
    return Loop(first - 1, last - 1)


def part_of(option: str, name: str, parts: tuple[str, ...]) -> str:
    """The part of a name, in any case of letters. Raises CallError, with the nearest name."""
    for part in parts:
        if part.casefold() == " ".join(name.split()).casefold():
            return part
    meant = nearest(name, parts)
    hint = f'Did you mean "{meant}"?' if meant else f"It has: {', '.join(parts)}."
    raise CallError(f'{option}: no part "{name}". {hint}')


def mix_of(arguments: argparse.Namespace, piece: Piece) -> Mix:
    """Who is heard, as `mix_options` declared it. Raises CallError."""
    parts = (*piece.part_names, CLICK)
    mix = Mix()
    if arguments.only:
        heard = [part_of("--only", name, parts) for name in arguments.only]
        # The click goes on beside a part that is heard alone: it has its own option.
        mix = mix.only([*heard, CLICK], parts)
    if arguments.without:
        mix = mix.without(*(part_of("--without", name, parts) for name in arguments.without))
    setters: list[tuple[str, list[str] | None, float, float, Callable[[Mix, str, float], Mix]]] = [
        ("--level", arguments.level, -60, 12, Mix.with_level),
        ("--pan", arguments.pan, -1, 1, Mix.with_pan),
    ]
    for option, texts, low, high, setter in setters:
        for text in texts or ():
            name, _, value = text.rpartition("=")
            if not re.fullmatch(r"-?\d{1,3}(\.\d{1,3})?", value, re.ASCII) or not low <= float(value) <= high:
                raise CallError(f'{option} cannot be {text}: a part and {low:g} to {high:g}, such as "guitar 1=-0.5".')
            mix = setter(mix, part_of(option, name, parts), float(value))
    return mix
