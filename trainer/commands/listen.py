"""`twinspur listen`: play along, and be told after each pass whether it was clean."""

import argparse
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from trainer.commands.line import DONE, MACHINE_LACKS, MachineError
from trainer.commands.playing import Playing, mix_of, mix_options, number_of, passes_of
from trainer.commands.terminal import complain, say
from trainer.playback.drivers import NoSoundError
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.mix import CLICK
from trainer.playback.plan import MOST_COUNT_IN, Plan
from trainer.playback.sink import SinkGoneError

if TYPE_CHECKING:
    from trainer.commands.hearing_pass import HeardPass, Keeper
    from trainer.commands.listening_card import CardListener
    from trainer.commands.subject import Subject
    from trainer.listening.judging import Judgement
    from trainer.settings import Settings

HEADPHONES = (
    "Use headphones, and a cable from the guitar: what comes out of a loudspeaker would be heard as yours. "
    "How loud it is at your ears cannot be measured here: begin with the level turned down."
)
BOTH_INPUTS = "Listening to both inputs of the sound card as one."
VANISHED = "The sound card is no longer there. What was played so far is kept. Connect it again, and start again."


def options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
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
    from trainer.commands.hearing_pass import Keeper
    from trainer.commands.judging import bands_asked
    from trainer.commands.kept import open_takes
    from trainer.commands.record import now
    from trainer.commands.subject import subject
    from trainer.places import data_folder
    from trainer.practice.log import Log
    from trainer.settings import load_settings

    settings = load_settings()
    bands = bands_asked(arguments, settings)
    asked, passes = arguments.passes, passes_of(arguments.passes)
    arguments.passes = None  # a take holds one pass
    target = subject(arguments)
    arguments.passes = asked
    part = target.part(0)
    playing = _playing(arguments, target, part, passes, settings)
    kept = {"click": playing.plan.click.name if playing.plan.click else "none", "heard_by": "sound card"}
    if Path(arguments.exercise).is_file():
        kept["file"] = str(Path(arguments.exercise).resolve())
    log = Log.open(
        data_folder() / "log.sqlite", now=now, tell=lambda problem: complain(f"twinspur: {problem}"),
        sitting=uuid4().hex,
    )  # fmt: skip
    try:
        keeper = Keeper(target, part, bands, open_takes(settings), log, kept, arguments.json)
        try:
            code = _by_midi(arguments, playing, keeper) if arguments.midi else _by_card(arguments, playing, keeper)
        except (NoSoundError, LibraryMissingError, SynthError, SinkGoneError) as error:
            raise MachineError(str(error)) from None
        if keeper.judged and not arguments.json:
            say(f"{keeper.clean} of {keeper.judged} judged passes were clean.")
        return code
    finally:
        log.close()


def _playing(
    arguments: argparse.Namespace, target: "Subject", part: str, passes: int | None, settings: "Settings"
) -> Playing:
    """What sounds meanwhile: the other parts and the click; one's own part only as a guide."""
    from trainer.playback.piece import Piece
    from trainer.playback.timeline import Timeline
    from trainer.sounds.find_banks import built_in_bank
    from trainer.sounds.load_patches import load_patches
    from trainer.sounds.sound_bank import check_bank

    rig = load_patches()
    piece = Piece.of(target.exercise, (target.riff,))
    mix = mix_of(arguments, piece)
    if not arguments.guide and not arguments.only:
        mix = mix.without(part)
    name = arguments.click or "beats"
    tempo = target.tempos[0] if arguments.tempo else target.riff.tempo.start
    plan = Plan(
        loop=target.loop,
        share=tempo / target.riff.tempo.target,
        passes=passes,
        count_in=number_of("--count-in", arguments.count_in, 0, MOST_COUNT_IN, 1),
        click=None if name == "none" else rig.click_pattern(name),
        mix=mix if mix.heard(CLICK) else mix.with_(CLICK),
    )
    bank = settings.bank or built_in_bank()
    timeline = Timeline.of(piece, rig.fitted_to(check_bank(bank)))
    return Playing(target.exercise, timeline, plan, None, bank, settings)


def _tempo(playing: Playing, keeper: "Keeper") -> None:
    """Say what is played."""
    tempo = float(playing.plan.share * keeper.subject.riff.tempo.target)
    if not keeper.as_json:
        say(f"{keeper.subject.exercise.title}: {keeper.subject.said(keeper.part, tempo)}. Ctrl-C ends it.")


def _by_card(arguments: argparse.Namespace, playing: Playing, keeper: "Keeper") -> int:
    from trainer.commands.listening_card import CardListener
    from trainer.commands.sink import synth_options
    from trainer.commands.sound_card import close, find_card, quiet_descriptor, refuse_wireless, wake
    from trainer.listening.calibration import stored
    from trainer.places import round_trips_file

    settings = playing.settings
    with quiet_descriptor():
        output = settings.output if arguments.output is None else arguments.output
        source = settings.device if arguments.device is None else arguments.device
        card = find_card(output, source)
        refuse_wireless(card)
        rate = synth_options(playing).rate
        trip = stored(round_trips_file(), card.real_output, card.real_source, rate)
        listener = CardListener(playing, (card.output, card.source), arguments.side, trip)
        tempo = playing.plan.share * keeper.subject.riff.tempo.target
        wake(card, rate)
        keeper.warm_up(tempo, rate)
        if not keeper.as_json:
            say(HEADPHONES)
            if trip is None:
                say("These devices are not calibrated: early or late as a whole is not known. See twinspur calibrate.")
        _tempo(playing, keeper)
        said = 1
        try:
            if not keeper.as_json:
                _level_first(card.source, rate)
            listener.stream.begin()
            for heard in listener.heard(keeper.written(tempo)):
                if listener.input != said and not keeper.as_json:
                    say(f"Listening to input {listener.input} of the sound card." if listener.input else BOTH_INPUTS)
                said = listener.input
                _mend(listener, heard, keeper.take(heard))
            if listener.stream.vanished:
                complain(f"twinspur: {VANISHED}")
                return MACHINE_LACKS
        except KeyboardInterrupt:
            pass
        finally:
            close(listener.stream)
    return DONE


def _level_first(source: str, rate: int) -> None:
    """Show the level before anything is played. Raises ProblemsError where the input cannot be opened."""
    from trainer.commands.level_line import watch_level
    from trainer.commands.listening_card import INPUTS
    from trainer.listening.capture import Capture

    with Capture(source, rate, channels=INPUTS) as capture:
        watch_level(capture)


def _mend(listener: "CardListener", heard: "HeardPass", judgement: "Judgement") -> None:
    """Where nothing is calibrated, a pass that was followed tells where the next one is to be looked for."""
    performance = judgement.performance
    if performance is not None and judgement.verdict.counts and not heard.known:
        listener.begins_differently(performance.start_s - heard.begins_s)


def _by_midi(arguments: argparse.Namespace, playing: Playing, keeper: "Keeper") -> int:
    from trainer.commands.listening_midi import MidiListener

    keeper.about = {**keeper.about, "heard_by": "MIDI"}
    listener = MidiListener(playing, arguments.midi)
    try:
        _tempo(playing, keeper)
        tempo = playing.plan.share * keeper.subject.riff.tempo.target
        for heard in listener.heard(keeper.written(tempo)):
            keeper.take(heard)
        if listener.gone:
            complain(f"twinspur: {listener.gone}")
            return MACHINE_LACKS
    except KeyboardInterrupt:
        pass
    finally:
        with suppress(KeyboardInterrupt):
            listener.close()
    return DONE
