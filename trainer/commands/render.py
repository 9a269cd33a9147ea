"""`twinspur render`: an exercise as an audio file or a MIDI file."""

import argparse
from pathlib import Path

from trainer.commands.playing import FOREVER, playing_options, prepare
from trainer.commands.rendering import render
from trainer.commands.replacing import replace_option


def options(parser: argparse.ArgumentParser) -> None:
    """What is rendered, as for `play`, and the file it goes to."""
    playing_options(parser)
    parser.add_argument(
        "--out", metavar="FILE", required=True, help="the file; its ending says what: .wav .flac .ogg .mp3 .mid"
    )
    replace_option(parser)
    parser.add_argument(
        "--fold", action="store_true", help="in a MIDI file: one channel for each part, not one for each string"
    )
    parser.add_argument("--json", action="store_true", help="print what was written as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Render one pass at the target, with neither click nor count-in unless they are asked for."""
    if arguments.passes in (None, FOREVER):
        arguments.passes = "1"
    playing = prepare(arguments, at_start=False, default_click=None)
    return render(playing, Path(arguments.out), arguments.json, replace=arguments.replace, fold=arguments.fold)
