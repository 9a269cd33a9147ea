"""`twinspur play`: hear an exercise, looped, over a click, at a tempo one can manage."""

import argparse
import sys
import time
from contextlib import suppress
from pathlib import Path

from trainer.commands.line import DONE, MachineError
from trainer.commands.playing import FOREVER, Playing, playing_options, prepare
from trainer.commands.rendering import render
from trainer.commands.replacing import free_path, replace_option
from trainer.commands.sink import SYNTH, is_file, open_sink
from trainer.commands.terminal import complain, say
from trainer.music.printable import printable
from trainer.playback.drivers import NoSoundError
from trainer.playback.position import Position, State
from trainer.playback.sink import SinkGoneError
from trainer.playback.transport import Transport

PAUSE_SECONDS = 0.02
"""Between two looks at the transport; its look-ahead is many times longer."""


def options(parser: argparse.ArgumentParser) -> None:
    """What is played, as for `render`, and where it sounds."""
    playing_options(parser)
    parser.add_argument(
        "--out",
        metavar="synth|port:NAME|virtual|FILE",
        default=SYNTH,
        help="where it sounds: the synth, a MIDI port, a virtual MIDI port, or an audio or MIDI file",
    )
    replace_option(parser)
    parser.add_argument("--clock", action="store_true", help="send MIDI clock, start, stop and position to a MIDI port")


def run(arguments: argparse.Namespace) -> int:
    """Play until the passes are done or Ctrl-C ends it."""
    if is_file(arguments.out) and arguments.passes in (None, FOREVER):
        arguments.passes = "1"
    playing = prepare(arguments, at_start=True, default_click="beats")
    if is_file(arguments.out):
        return render(playing, Path(arguments.out), replace=arguments.replace)
    try:
        sink = open_sink(arguments.out, playing)
    except NoSoundError as error:
        if arguments.passes in (None, FOREVER):
            arguments.passes = "1"
        path = free_path(Path(f"{playing.exercise.id}.wav"), replace=arguments.replace)
        complain(f"{error} What would have been heard is written to {path} instead.")
        playing = prepare(arguments, at_start=True, default_click="beats")
        return render(playing, path, replace=arguments.replace)
    interrupted = False
    try:
        transport = Transport(
            playing.timeline, sink, playing.plan, next_share=playing.next_share, midi_clock=arguments.clock
        )
        transport.play()
        _follow(transport, playing)
    except KeyboardInterrupt:
        interrupted = True
        sink.silence()
    except SinkGoneError as error:
        raise MachineError(str(error)) from None
    finally:
        with suppress(KeyboardInterrupt):
            sink.close()
        if interrupted and sys.stdout.isatty():
            sys.stdout.write("\n")
    return DONE


def _follow(transport: Transport, playing: Playing) -> None:
    """Keep the transport going, and show where it is in one line."""
    shown = ""
    title = printable(playing.exercise.title)
    live = sys.stdout.isatty()
    if not live:
        say(f"{title}: playing")
    while transport.advance():
        if live:
            line = _progress(transport.position(), playing, title)
            if line != shown:
                sys.stdout.write(f"\r{line:<{len(shown)}}")
                sys.stdout.flush()
                shown = line
        time.sleep(PAUSE_SECONDS)
    if live:
        sys.stdout.write("\n")


def _progress(position: Position, playing: Playing, title: str) -> str:
    riff = playing.timeline.piece.riffs[position.riff].riff
    bars = len(riff.meters)
    tempo = f"{float(position.tempo_bpm):.0f} bpm ({float(position.share):.0%})"
    passes = f" of {playing.plan.passes}" if playing.plan.passes else ""
    if position.state is State.COUNTING_IN:
        return f"{title}: count-in {position.count}, {tempo}"
    name = f", {printable(riff.name)}" if len(playing.timeline.piece.riffs) > 1 else ""
    place = f"bar {position.riff_bar + 1} of {bars}, count {position.count}"
    return f"{title}{name}: {place}, {tempo}, pass {position.pass_number}{passes}"
