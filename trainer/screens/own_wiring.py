"""The wiring of the program itself: the player's folders, log, settings and sound device."""

import contextlib
import os
import sys
import time
from collections.abc import Callable, Sequence
from datetime import datetime
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from trainer.places import bundled, data_folder, index_file, round_trips_file, shelf_name, state_folder, takes_folder
from trainer.screens.drawing.pen import pen_for
from trainer.screens.memory import Memory
from trainer.screens.news import News
from trainer.screens.once import Once
from trainer.screens.wiring import Sounding, Wiring

if TYPE_CHECKING:
    from trainer.listening.sound import Sound
    from trainer.listening.takes import KeptTake, Takes
    from trainer.music.exercise import Exercise
    from trainer.music.problem import Problem
    from trainer.notation.head import Head
    from trainer.notation.index import Glimpse
    from trainer.notation.library import Library
    from trainer.playback.plan import Plan
    from trainer.playback.played_again import Beside
    from trainer.playback.timeline import Timeline
    from trainer.practice.log import Log
    from trainer.screens.ears import Ear
    from trainer.screens.known_late import Known
    from trainer.screens.render_again import Renders
    from trainer.screens.replay import Replay
    from trainer.settings import Settings
    from trainer.sounds.rig import Rig


class ExerciseFiles:
    """The exercises in the player's folders and the bundled ones."""

    def __init__(
        self, folders: Callable[[], Sequence[Path]], index: Path | None, rig: "Callable[[], Rig]", of: str = ""
    ) -> None:
        """Look into folders.

        Args:
            folders: gives where exercises are.
            index: remembers heads between starts.
            rig: gives what knows which patches exercises may name.
            of: names the folders in the index.
        """
        self._folders, self._index, self._rig, self._of = folders, index, rig, of
        self._library = Once(self._look)

    def _look(self) -> "Library":
        from trainer.notation.library import Library

        return Library(self._folders(), self._index, self._of)

    def glimpse(self, file: str) -> "Glimpse | None":
        """Those around a file as they were at the last start."""
        from trainer.notation.index import glimpse

        return glimpse(self._index, self._of, file) if self._index else None

    def heads(self) -> "Sequence[Head]":
        """All of them."""
        return self._library().heads()

    def find(self, name: str) -> Path:
        """The file of one. Raises ProblemsError."""
        return self._library().find(name)

    def read(self, path: Path) -> "Exercise":
        """One, with its harmonies computed. Raises ProblemsError."""
        from trainer.arranging.realise import realise_exercise
        from trainer.notation.files import read_file

        return realise_exercise(read_file(path, self._rig().patch_names, path.name), path.name)

    def add_folder(self, folder: Path) -> bool:
        """Look into another one too, and keep it in the settings. Raises ProblemsError."""
        from trainer.settings import add_folder, load_settings

        new = add_folder(folder)
        self._folders, self._of = (lambda: load_settings().exercise_folders), shelf_name()
        self._library = Once(self._look)
        return new


def own_wiring() -> Wiring:
    """Everything as the player has set it up; what is wrong with that is told on the first screen.

    Nothing but the memory is read here: the first screen is shown before the settings and the log are.
    """
    news = News()
    settings = Once(lambda: _settings(news))

    def open_sound(port: str) -> Sounding:
        return sound_opener(settings(), own_rig)(port)

    def open_ear(name: str) -> "Ear":
        return ear_opener(settings())(name)

    def plays_again(timeline: "Timeline", plan: "Plan", start: Fraction) -> "Sound | None":
        return renderer(settings())(timeline, plan, start)

    exercises = ExerciseFiles(lambda: settings().exercise_folders, index_file(), own_rig, shelf_name())

    def hear_again(take: "KeptTake", beside: "Beside") -> "Replay":
        from trainer.screens.own_replay import replay

        return replay(take, beside, settings(), own_rig, exercises)

    return Wiring(
        exercises=exercises,
        open_log=Once(lambda: _open_log(news)),
        memory=Memory(state_folder() / "stand.json", news.tell),
        load_rig=own_rig,
        open_sound=open_sound,
        clock=time.monotonic,
        now=local_now,
        open_input=open_input,
        midi_outputs=midi_outputs,
        midi_inputs=midi_inputs,
        pen=pen_for(sys.stdout.encoding),
        news=news,
        own_file=own_file,
        open_ear=open_ear,
        bands=lambda: settings().bands,
        known_late=look_up_lateness,
        plays_again=plays_again,
        takes=lambda: own_takes(settings()),
        hear_again=hear_again,
    )


def _open_log(news: News) -> "Log":
    """The player's log; ports on which notes may still sound from a start that was cut short are silenced first."""
    from trainer.practice.log import Log

    def tell(problem: "Problem") -> None:
        news.tell(str(problem))

    log = Log.open(data_folder() / "log.sqlite", now=local_now, tell=tell, sitting=uuid4().hex, process=os.getpid())
    silence_ports(log)
    return log


@cache
def own_rig() -> "Rig":
    """The bundled patches and the player's own. Raises ProblemsError."""
    from trainer.sounds.load_patches import load_patches

    return load_patches()


def own_file(path: Path) -> Path:
    """Where changes to an exercise are written: in its file, or for a bundled one in the player's own folder."""
    inside = path.resolve().is_relative_to(bundled("exercises").resolve())
    return data_folder() / "exercises" / path.name if inside else path


def local_now() -> datetime:
    """The local time, with its zone."""
    return datetime.now().astimezone()


def _settings(news: News) -> "Settings":
    from trainer.music.problem import ProblemsError
    from trainer.settings import Settings, load_settings

    try:
        return load_settings()
    except ProblemsError as error:
        for problem in error.problems:
            news.tell(str(problem))
        return Settings()


def sound_opener(settings: "Settings", rig: "Callable[[], Rig]") -> Callable[[str], Sounding]:
    """What opens the sound with the player's settings; it never fails."""

    def open_sound(port: str) -> Sounding:
        from trainer.music.problem import ProblemsError
        from trainer.playback.drivers import NoSoundError
        from trainer.playback.fluid import LibraryMissingError, SynthError
        from trainer.playback.port_names import PortError
        from trainer.screens.silent_sink import SilentSink

        try:
            return _open_port(port) if port else _open_synth(settings, rig())
        except ProblemsError as error:
            why = str(error.problems[0])
        except (NoSoundError, LibraryMissingError, SynthError, PortError, OSError) as error:
            why = str(error)
        return Sounding(SilentSink(), "silence", why)

    return open_sound


def _open_port(port: str) -> Sounding:
    from trainer.playback.port_sink import PortSink

    sink = PortSink(port)
    return Sounding(sink, sink.port, port=sink.port)


def _open_synth(settings: "Settings", rig: "Rig") -> Sounding:
    from trainer.playback.audio_out import Device
    from trainer.playback.drivers import AUTOMATIC
    from trainer.playback.synth_options import SynthOptions
    from trainer.playback.synth_sink import ClickKeys, SynthSink
    from trainer.sounds.dynamics import Weight
    from trainer.sounds.find_banks import built_in_bank
    from trainer.sounds.sound_bank import check_bank

    bank = settings.bank or built_in_bank()
    check_bank(bank)
    usual = SynthOptions()
    gain = usual.gain if settings.gain is None else settings.gain
    options = SynthOptions(rate=settings.rate or usual.rate, gain=gain)
    device = Device(settings.driver or AUTOMATIC, period=settings.period, periods=settings.periods)
    kit = rig.for_part("click").kit
    keys = ClickKeys()
    if kit is not None:
        keys = ClickKeys(kit.key("click")[0], kit.key("click", Weight.ACCENT)[0])
    sink = SynthSink(bank, device, options, keys)
    return Sounding(sink, f"synth on {sink.driver}", latency_seconds=(sink.latency - sink.period / 2) / sink.rate)


def open_input(name: str) -> Any:
    """A MIDI input by its name. Raises PortError."""
    from trainer.playback.midi_source import MidiSource

    return MidiSource(name)


def ear_opener(settings: "Settings") -> "Callable[[str], Ear]":
    """What opens the sound card's input or a MIDI input with the player's settings."""

    def open_ear(name: str) -> "Ear":
        from trainer.screens.ears import CardEar, MidiEar
        from trainer.screens.painting import hush_descriptor

        hush_descriptor()
        return MidiEar(open_input(name), time.monotonic) if name else CardEar(settings.device, time.monotonic)

    return open_ear


def renderer(settings: "Settings") -> "Renders":
    """What renders a pass again as the stand's synth played it, with the player's settings."""
    from trainer.playback.synth_options import SynthOptions
    from trainer.screens.render_again import renders_on
    from trainer.sounds.find_banks import built_in_bank

    usual = SynthOptions()
    gain = usual.gain if settings.gain is None else settings.gain
    return renders_on(settings.bank or built_in_bank(), SynthOptions(rate=settings.rate or usual.rate, gain=gain))


def look_up_lateness(ear: "Ear", sounding: Sounding) -> "Known | None":
    """What `twinspur calibrate` measured of an open input and of what sounds. Raises ProblemsError."""
    from trainer.screens.known_late import kept_lateness

    return kept_lateness(round_trips_file())(ear, sounding)


def own_takes(settings: "Settings") -> "Takes":
    """The player's folder of takes."""
    from trainer.listening.takes import Takes

    return Takes(takes_folder(), settings.keep_mib << 20)


def midi_outputs() -> list[str]:
    """The names of the MIDI outputs that are connected."""
    from trainer.playback import midi_ports

    return [port.name for port in midi_ports.midi_outputs()]


def midi_inputs() -> list[str]:
    """The names of the MIDI inputs that are connected."""
    from trainer.playback import midi_ports

    return [port.name for port in midi_ports.midi_inputs()]


def silence_ports(log: "Log") -> None:
    """All notes off on the ports of runs that were cut short."""
    from trainer.practice.sittings import ports_to_silence, silenced
    from trainer.screens.application import process_runs

    ports = log.ask(ports_to_silence, process_runs, log.sitting)
    if not ports:
        return
    from trainer.playback.port_names import PortError
    from trainer.playback.port_sink import PortSink

    for port in ports:
        with contextlib.suppress(PortError):
            sink = PortSink(port)
            sink.silence()
            sink.close()
    log.change(silenced, process_runs, round(local_now().timestamp() * 1000), log.sitting)
