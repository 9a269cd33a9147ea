"""`twinspur judge`: was that pass really clean, and which stroke was late. Takes come from audio and MIDI files."""

import argparse
from pathlib import Path
from typing import Any

from trainer.commands.line import DONE, FILE_WRONG
from trainer.commands.terminal import complain, say, say_json
from trainer.music.problem import ProblemsError


def options(parser: argparse.ArgumentParser) -> None:
    """The recordings, what they are judged against, and how strictly."""
    from trainer.commands.judging import bands_option, side_option
    from trainer.commands.subject import form_option, subject_options

    subject_options(parser)
    form_option(parser)
    parser.add_argument("takes", metavar="TAKE", nargs="+", type=Path, help="an audio file or a MIDI file")
    parser.add_argument("--passes", metavar="N", help="how often it was played without a break (default: once)")
    side_option(parser)
    bands_option(parser)
    parser.add_argument("--plot", metavar="FILE.svg|png", help="draw every stroke's deviation into a file")
    parser.add_argument("--json", action="store_true", help="print the verdicts and every stroke as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Judge each take; a file that is wrong does not keep the others from it."""
    from trainer.commands.judging import bands_asked, judge, takes_of
    from trainer.commands.own_machine import machine
    from trainer.commands.subject import SubjectRequest, subject
    from trainer.commands.telling import plain, tell

    bands = bands_asked(arguments, machine().settings())
    plot = _picture(arguments.plot)
    target = subject(SubjectRequest.of(arguments))
    found, wrong = [], False
    for path in arguments.takes:
        try:
            found += [(number, take) for number, take in enumerate(takes_of(path, arguments.side))]
        except ProblemsError as error:
            wrong = True
            for problem in error.problems:
                complain(str(problem))
    told: list[dict[str, Any]] = []
    for place, (number, take) in enumerate(found):
        # The sides of a file are two guitarists; several files are takes of one part, or of one part each.
        part = target.part(place if len(arguments.part or ()) > 1 else number)
        judgement, written = judge(take.take, target, part, bands)
        wrong = wrong or not judgement.verdict.counts
        title = f"{take.name}, {target.said(part, written.tempo_bpm)}"
        if arguments.json:
            told.append(
                plain(
                    judgement, file=str(take.path), side=take.side, exercise=target.exercise.id,
                    riff="" if target.form else target.riff.name, form=target.form, part=part, bars=list(target.bars),
                    tempo_bpm=written.tempo_bpm,
                )
            )  # fmt: skip
        else:
            tell(judgement, title)
        if plot is not None:
            from trainer.commands.plotting import numbered, write_plot

            picture = numbered(plot, place, len(found))
            write_plot(judgement, title, bands, picture)
            if not arguments.json:
                say(f"  {picture}: the picture.")
    if arguments.json:
        say_json(told)
    return FILE_WRONG if wrong else DONE


def _picture(text: str | None) -> Path | None:
    """Where the picture goes; what draws it is loaded only where one is asked for. Raises CallError."""
    if text is None:
        return None
    from trainer.commands.plotting import plot_path

    return plot_path(text)
