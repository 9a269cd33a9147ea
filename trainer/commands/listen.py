"""`twinspur listen`: play along, and be told after each pass whether it was clean. A session without a screen."""

import argparse
import queue
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.line import DONE, MACHINE_LACKS, MachineError
from trainer.commands.playing import mix_of, mix_options, number_of, passes_of
from trainer.commands.terminal import complain, say
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.mix import CLICK
from trainer.playback.plan import MOST_COUNT_IN

if TYPE_CHECKING:
    from trainer.commands.pass_printer import PassPrinter
    from trainer.commands.subject import Subject
    from trainer.playback.piece import Piece
    from trainer.session.duplex_card import DuplexCard
    from trainer.session.events import SessionEvent
    from trainer.session.live_listening import OpenInput
    from trainer.session.machine import Machine
    from trainer.session.music import LoadedExercise
    from trainer.session.state import SessionState

HEADPHONES = (
    "Use headphones, and a cable from the guitar: what comes out of a loudspeaker would be heard as yours. "
    "How loud it is at your ears cannot be measured here: begin with the level turned down."
)
NOT_CALIBRATED = "These devices are not calibrated: early or late as a whole is not known. See twinspur calibrate."
LOOK_S = 0.1
"""Between two looks at whether the sound is still there."""


def options(parser: argparse.ArgumentParser) -> None:
    """What is played, through what it is heard, and how it is judged."""
    from trainer.commands.judging import bands_option
    from trainer.commands.subject import subject_options

    subject_options(parser)
    parser.add_argument("--passes", metavar="N", help="how often it is played, or forever (default)")
    parser.add_argument("--click", metavar="PATTERN", help="the click's pattern (see twinspur sounds), or none")
    parser.add_argument("--count-in", metavar="N", help="bars counted in, 0 to 4")
    mix_options(parser)
    parser.add_argument("--guide", action="store_true", help="let your own part sound too")
    way = parser.add_mutually_exclusive_group()
    way.add_argument("--midi", metavar="PORT", help="play by MIDI: the input's name, or a part of it")
    way.add_argument("--device", metavar="NAME", help="the sound card's input, by its name or a part of it")
    parser.add_argument("--output", metavar="NAME", help="the sound card's output, by its name or a part of it")
    parser.add_argument(
        "--side",
        choices=("left", "right", "both"),
        help="which input of a stereo card is the guitar's (default: the loudest)",
    )
    bands_option(parser)
    parser.add_argument("--json", action="store_true", help="print each verdict as JSON, one a line")


def run(arguments: argparse.Namespace) -> int:
    """Play, listen and judge until the passes are done or Ctrl-C ends it."""
    from trainer.commands.judging import bands_asked
    from trainer.commands.own_machine import machine as own_machine
    from trainer.commands.pass_printer import PassPrinter
    from trainer.commands.subject import SubjectRequest, subject
    from trainer.session.memory import SessionMemory
    from trainer.session.music import LoadedExercise
    from trainer.session.own_sound import bank_of
    from trainer.sounds.sound_bank import check_bank

    own = own_machine(practising=True)
    settings = own.settings()
    asked = replace(settings, bands=bands_asked(arguments, settings))
    passes = passes_of(arguments.passes)
    target = subject(replace(SubjectRequest.of(arguments), passes=None))
    rig = own.rig.fitted_to(check_bank(bank_of(settings)))
    machine = replace(own, memory=SessionMemory(None), load_rig=lambda: rig, settings=lambda: asked)
    file = Path(arguments.exercise)
    loaded = replace(
        LoadedExercise.of(target.exercise, target.riff.name, rig), file=str(file.resolve()) if file.is_file() else ""
    )
    state = _state(arguments, target, loaded, machine)
    try:
        with ExitStack() as stack:
            if arguments.midi:
                opened = _by_midi(arguments, machine, stack)
            else:
                machine, opened = _by_card(arguments, machine, loaded.piece, stack)
            printer = PassPrinter(target, opened.input, machine.clock, as_json=arguments.json)
            return _listen(machine, opened, state, passes, printer)
    except (LibraryMissingError, SynthError) as error:
        raise MachineError(str(error)) from None
    except KeyboardInterrupt:
        return DONE


def _state(
    arguments: argparse.Namespace, target: "Subject", loaded: "LoadedExercise", machine: "Machine"
) -> "SessionState":
    """How the session begins: as the options say; one's own part sounds only as a guide."""
    from trainer.practice.verdict import Decides
    from trainer.session.choices import Choices, to_hundredth
    from trainer.session.ladders import as_left

    part = target.part(0)
    mix = mix_of(arguments, target.piece).with_(CLICK)
    if not arguments.guide and not arguments.only:
        mix = mix.without(part)
    name = arguments.click or "beats"
    if name != "none":
        machine.rig.click_pattern(name)  # it is told here where there is none
    choices = Choices(
        mine=part,
        first=target.loop.first,
        last=target.loop.last,
        bpm=to_hundredth(target.tempos[0] if arguments.tempo else target.riff.tempo.start),
        unheard=tuple(sorted(mix.unheard)),
        levels=mix.levels_db,
        pans=mix.pans,
        click="" if name == "none" else name,
        count_in=number_of("--count-in", arguments.count_in, 0, MOST_COUNT_IN, 1),
    )
    return replace(as_left(loaded, machine), choices=choices, decides=Decides.TAKE)


def _by_midi(arguments: argparse.Namespace, machine: "Machine", stack: ExitStack) -> "OpenInput":
    """Open the synth on its own driver, and a MIDI input. Raises MachineError."""
    from trainer.playback.port_names import PortError
    from trainer.session.live_listening import OpenInput

    try:
        source = machine.inputs.open(arguments.midi)
    except PortError as error:
        raise MachineError(str(error)) from None
    stack.callback(source.close)
    sounding = machine.outputs.open("")
    stack.callback(sounding.sink.close)
    if sounding.trouble:
        raise MachineError(sounding.trouble)
    return OpenInput(source, None, sounding)


def _by_card(
    arguments: argparse.Namespace, machine: "Machine", piece: "Piece", stack: ExitStack
) -> "tuple[Machine, OpenInput]":
    """Open the card, playing and recording in one stream that is the session's clock.

    Raises ProblemsError, MachineError, SynthError, LibraryMissingError.
    """
    from trainer.commands.sound_card import find_card, quiet_descriptor, refuse_wireless, wake
    from trainer.listening.calibration import stored
    from trainer.places import round_trips_file
    from trainer.playback.offline_synth import OfflineSynth
    from trainer.playback.render import click_keys
    from trainer.playback.timeline import Timeline
    from trainer.session.duplex_card import DuplexCard
    from trainer.session.live_listening import OpenInput
    from trainer.session.own_sound import bank_of, synth_options

    settings = machine.settings()
    stack.enter_context(quiet_descriptor())
    output = settings.output if arguments.output is None else arguments.output
    source = settings.device if arguments.device is None else arguments.device
    devices = find_card(output, source)
    refuse_wireless(devices)
    options = synth_options(settings)
    trip = stored(round_trips_file(), devices.real_output, devices.real_source, options.rate)
    synth = OfflineSynth(bank_of(settings), options, click_keys(Timeline.of(piece, machine.rig)))
    card = DuplexCard(synth, output=devices.output, source=devices.source, side=arguments.side, trip=trip)
    stack.callback(card.sink.close)
    wake(devices, options.rate)
    if not arguments.json:
        say(HEADPHONES)
        if trip is None:
            say(NOT_CALIBRATED)
        _level_first(card)
    card.begin()
    sounding = card.sounding
    opened = OpenInput(card.input, card.latency(card.input, sounding), sounding)
    return replace(machine, clock=card.clock), opened


def _listen(
    machine: "Machine", opened: "OpenInput", state: "SessionState", passes: int | None, printer: "PassPrinter"
) -> int:
    """Let the session play, and print what it tells, until it is over."""
    from trainer.session.actions import Start
    from trainer.session.session import PracticeSession

    assert opened.sounding is not None  # noqa: S101  # both ways open one
    events: queue.SimpleQueue[SessionEvent] = queue.SimpleQueue()
    session = PracticeSession(machine, state.loaded, opened.sounding, events.put, state=state, passes=passes)
    try:
        session.listen(opened)
        printer.announce(state)
        session.apply(Start())
        while not printer.gone and (passes is None or printer.heard < passes):
            if session.sounding.trouble:
                raise MachineError(session.sounding.trouble)
            printer.wait(events, LOOK_S)
    except KeyboardInterrupt:
        pass
    finally:
        session.close()
    printer.finish(events)
    if printer.gone:
        complain(f"twinspur: {printer.gone}")
        return MACHINE_LACKS
    if printer.judged and not printer.as_json:
        say(f"{printer.clean} of {printer.judged} judged passes were clean.")
    return DONE


def _level_first(card: "DuplexCard") -> None:
    """Show the level before anything is played. Raises ProblemsError where the input cannot be opened."""
    from trainer.commands.level_line import watch_level
    from trainer.listening.capture import Capture
    from trainer.session.inputs import INPUTS

    with Capture(card.input.name, card.input.rate, channels=INPUTS) as capture:
        watch_level(capture)
