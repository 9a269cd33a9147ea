"""`twinspur export`: an exercise for other programs, as MusicXML or MIDI by the file's ending."""

import argparse
from pathlib import Path

from trainer.arranging.realise import realise_exercise
from trainer.commands.exercises import exercise_option, load
from trainer.commands.line import DONE, CallError
from trainer.commands.own_machine import machine
from trainer.commands.playing import Playing
from trainer.commands.rendering import MIDI_ENDINGS, render
from trainer.commands.replacing import check_free, replace_option
from trainer.commands.terminal import say
from trainer.exchange.musicxml_out import write_musicxml
from trainer.music.exercise import Exercise
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.session.own_sound import bank_of
from trainer.sounds.sound_bank import check_bank

SCORE_ENDINGS = (".musicxml", ".mxl")


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `export` to its parser."""
    exercise_option(parser, riff=False)
    endings = ", ".join((*SCORE_ENDINGS, *MIDI_ENDINGS))
    parser.add_argument("--out", metavar="FILE", type=Path, required=True, help=f"the file, ending in {endings}")
    replace_option(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the file and say what it holds."""
    path: Path = arguments.out
    ending = path.suffix.casefold()
    if ending not in (*SCORE_ENDINGS, *MIDI_ENDINGS):
        allowed = ", ".join((*SCORE_ENDINGS, *MIDI_ENDINGS))
        raise CallError(f"--out cannot be {path}: a file ending in {allowed}.")
    exercise, source = load(arguments.exercise)
    exercise = realise_exercise(exercise, str(source))
    if ending in MIDI_ENDINGS:
        return render(_once(exercise), path, replace=arguments.replace)
    check_free(path, replace=arguments.replace)
    write_musicxml(exercise, path)
    bars = sum(len(riff.meters) for riff in exercise.riffs)
    say(f"{path}: {len(exercise.part_names)} parts, {bars} bars, each riff once.")
    return DONE


def _once(exercise: Exercise) -> Playing:
    """The whole exercise at its target tempo, once, without a click."""
    settings, rig = machine().settings(), machine().rig
    piece, bank = Piece.of(exercise, exercise.played), bank_of(settings)
    timeline = Timeline.of(piece, rig.fitted_to(check_bank(bank)))
    return Playing(exercise, timeline, Plan.once(piece), None, bank, settings)
