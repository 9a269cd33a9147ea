"""`twinspur render`: an exercise as an audio file or a MIDI file."""

import argparse
from pathlib import Path

from trainer.commands.playing import FOREVER, playing_options, prepare
from trainer.commands.rendering import render


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    playing_options(parser)
    parser.add_argument(
        "--out", metavar="FILE", required=True, help="the file; its ending says what: .wav .flac .ogg .mp3 .mid"
    )
    parser.add_argument("--json", action="store_true", help="print what was written as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Render one pass at the target, with neither click nor count-in unless they are asked for."""
    if arguments.passes in (None, FOREVER):
        arguments.passes = "1"
    return render(prepare(arguments, at_start=False, default_click=None), Path(arguments.out), arguments.json)
