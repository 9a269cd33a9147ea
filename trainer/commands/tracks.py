"""`twinspur tracks`: practice tracks of an exercise's riffs, at the rungs of the ladder."""

import argparse
import hashlib
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import choose_riff, exercise_option, load
from trainer.commands.line import DONE, CallError, MachineError
from trainer.commands.own_machine import machine
from trainer.commands.playing import loop_of, number_of, part_of
from trainer.commands.replacing import replace_option
from trainer.commands.terminal import say, say_json
from trainer.exchange.practice_tracks import Answer, Batch, Track, TrackRiff, WhoIsHeard, digest_of, tracks_of
from trainer.exchange.track_rendering import LIST, TrackMistakeError, made_before, render_tracks
from trainer.music.exercise import Exercise
from trainer.music.riff import Riff
from trainer.playback import fluid
from trainer.playback.click_track import BEATS
from trainer.playback.piece import Loop
from trainer.playback.plan import MOST_COUNT_IN, Plan
from trainer.playback.share import parse_share
from trainer.session.music import LoadedExercise
from trainer.session.own_sound import bank_of, synth_options
from trainer.sounds.sound_bank import check_bank

FORMATS = ("mp3", "ogg", "flac", "wav")
USUAL_TEMPOS = 5
MOST_TRACKS = 1000
MOST_PASSES = 100


def options(parser: argparse.ArgumentParser) -> None:
    """Which riffs, tempos and versions, and the folder."""
    exercise_option(parser, riff=False)
    parser.add_argument(
        "--out", metavar="FOLDER", type=Path, required=True, help="the folder; it is made where missing"
    )
    parser.add_argument("--riff", metavar="RIFF", action="append", help="only this riff; may be given again")
    parser.add_argument("--bars", metavar="3-6", help="only these bars of one riff, counted from 1")
    parser.add_argument(
        "--part", metavar="PART", action="append", help="whose tracks these are, usually guitar 1; may be given again"
    )
    parser.add_argument(
        "--version", choices=[str(each) for each in WhoIsHeard], action="append",
        help="full band, without the part, or the part alone; all three where none is named",
    )  # fmt: skip
    parser.add_argument(
        "--tempo", metavar="96|60%", action="append", help="in bpm, or in per cent of the target; may be given again"
    )
    parser.add_argument("--all-rungs", action="store_true", help="every rung of the ladder, not five of them")
    parser.add_argument("--passes", metavar="N", help="how often it is played on each track, usually 4")
    parser.add_argument("--count-in", metavar="N", help="bars counted in, 0 to 4, usually 1")
    parser.add_argument("--click", metavar="PATTERN", help="the click's pattern (see twinspur sounds), or none")
    parser.add_argument("--format", choices=FORMATS, default="mp3", help="the kind of sound file, usually mp3")
    replace_option(parser, "files in the folder that have a track's name")
    parser.add_argument("--json", action="store_true", help="print the tracks as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Make what is missing in the folder, and say what was made."""
    settings, rig = machine().settings(), machine().rig
    exercise, source = load(arguments.exercise)
    exercise = realise_exercise(exercise, str(source))
    tracks = _tracks(arguments, exercise)
    bank, how = bank_of(settings), synth_options(settings)
    fitted = rig.fitted_to(check_bank(bank))
    folder: Path = arguments.out
    _make(folder)
    named = hashlib.sha256(bank.read_bytes()).digest()
    digests = {track.name: digest_of(track, exercise, named, (how, fitted)) for track in tracks}
    made = made_before(folder)
    missing = [track for track in tracks if made.get(track.name) != digests[track.name]]
    _check_free(folder, missing, made, replace=arguments.replace)
    batch = Batch(exercise, fitted, bank, how, folder.resolve(), len(tracks))
    _require_library()
    try:
        with _progress(len(missing), show=not arguments.json) as done:
            render_tracks(batch, missing, digests, made, done)
    except KeyboardInterrupt:
        say(f"Stopped. What is finished stays in {folder}; the same command goes on from there.")
        raise
    except TrackMistakeError as mistake:
        raise RuntimeError(str(mistake)) from None
    if arguments.json:
        say_json([_values(track, folder, missing) for track in tracks])
        return DONE
    there = len(tracks) - len(missing)
    kept = f"; {there} {'was' if there == 1 else 'were'} there already" if there else ""
    say(f"{folder}: {len(missing)} {'track' if len(missing) == 1 else 'tracks'} made{kept}.")
    return DONE


def _values(track: Track, folder: Path, missing: Sequence[Track]) -> dict[str, object]:
    return {
        "file": str(folder / track.name),
        "title": track.title,
        "riff": track.riff,
        "tempo_bpm": float(track.tempo_bpm),
        "made": track in missing,
    }


def _tracks(arguments: argparse.Namespace, exercise: Exercise) -> tuple[Track, ...]:
    """What is asked for. Raises CallError."""
    riffs = [choose_riff(exercise, name) for name in arguments.riff or ()] or list(exercise.riffs)
    if arguments.bars and len(riffs) > 1:
        raise CallError("--bars needs one riff: add --riff.")
    versions = [WhoIsHeard(each) for each in arguments.version or WhoIsHeard]
    parts = [part_of("--part", name, exercise.part_names) for name in arguments.part or ()]
    loaded = [LoadedExercise.of(exercise, riff.name, machine().rig, machine().settings().ladder) for riff in riffs]
    if not parts:
        parts = [(loaded[0].guitars or loaded[0].parts)[0]]
    plan = _plan(arguments)
    stretches = [
        TrackRiff(each.riff, each.target_bpm, each.parts, _in_bars(plan, each, arguments.bars)) for each in loaded
    ]
    tempos = [_tempos(arguments, each, riff) for each, riff in zip(loaded, riffs, strict=True)]
    tracks = tracks_of(stretches, tempos, versions, parts, f".{arguments.format}")
    if not tracks:
        raise CallError(f"No riff of these has a part {' or '.join(parts)}.")
    if len(tracks) > MOST_TRACKS:
        raise CallError(
            f"These would be {len(tracks)} tracks: at most {MOST_TRACKS}. Choose riffs, tempos or versions."
        )
    if len({track.name for track in tracks}) < len(tracks):
        raise CallError("Two tracks would have one name: choose one of these riffs with --riff.")
    return tracks


def _plan(arguments: argparse.Namespace) -> Plan:
    pattern = arguments.click or BEATS.name
    return Plan(
        Loop(0, 0),
        passes=number_of("--passes", arguments.passes, 1, MOST_PASSES, 4),
        count_in=number_of("--count-in", arguments.count_in, 0, MOST_COUNT_IN, 1),
        click=None if pattern == "none" else machine().rig.click_pattern(str(pattern)),
    )


def _in_bars(plan: Plan, loaded: LoadedExercise, bars: str | None) -> Plan:
    return replace(plan, loop=loop_of(bars, loaded.piece))


def _tempos(arguments: argparse.Namespace, loaded: LoadedExercise, riff: Riff) -> list[Fraction]:
    """Whole bpm, from slow to fast: those asked for, or the ladder's rungs up to the target."""
    target = loaded.target_bpm
    if arguments.tempo:
        return sorted({parse_share(text, riff.tempo.target) * target for text in arguments.tempo})
    rungs = sorted({Fraction(round(rung)) for rung in loaded.rules.rungs() if rung <= loaded.rules.target_bpm})
    if arguments.all_rungs or len(rungs) <= USUAL_TEMPOS:
        return rungs
    last = USUAL_TEMPOS - 1
    return [rungs[round(number * (len(rungs) - 1) / last)] for number in range(USUAL_TEMPOS)]


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CallError(f"--out cannot be {folder}: {error.strerror}. Name a folder that can be made.") from None


def _check_free(folder: Path, missing: Sequence[Track], made: dict[str, str], *, replace: bool) -> None:
    """Raise CallError where somebody else's file has a track's name."""
    others = [track.name for track in missing if track.name not in made and (folder / track.name).exists()]
    if others and not replace:
        raise CallError(f"{folder / others[0]} exists and is not in {LIST}. Name another folder, or add --replace.")


def _require_library() -> None:
    try:
        fluid.version()
    except fluid.LibraryMissingError as error:
        raise MachineError(str(error)) from None


@contextmanager
def _progress(count: int, *, show: bool) -> Iterator[Callable[[Track, Answer], None]]:
    """A bar on a terminal; elsewhere nothing."""
    if not (show and sys.stderr.isatty() and count):
        yield lambda track, answer: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("Tracks"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=count)
        yield lambda track, answer: bar.advance(task)
