"""The player's own sound: outputs and inputs as the settings name them, each opened when it is asked for."""

import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.places import round_trips_file
from trainer.session.machine import Exercises, Sounding

if TYPE_CHECKING:
    from trainer.listening.sound import Sound
    from trainer.listening.takes import KeptTake
    from trainer.playback.midi_source import MidiSource
    from trainer.playback.plan import Plan
    from trainer.playback.synth_options import SynthOptions
    from trainer.playback.synth_sink import ClickKeys, SynthSink
    from trainer.playback.timeline import Timeline
    from trainer.session.inputs import Input
    from trainer.session.latency import CalibratedLatency
    from trainer.session.machine import Replay
    from trainer.session.played_again import Beside, Voices
    from trainer.settings import Settings
    from trainer.sounds.rig import Rig


class OwnOutputs:
    """The synth on the player's sound device, and the MIDI outputs that are connected."""

    def __init__(self, settings: "Callable[[], Settings]", rig: "Callable[[], Rig]", exercises: Exercises) -> None:
        """Open nothing yet.

        Args:
            settings: gives the player's settings.
            rig: gives the patches.
            exercises: where what a kept take is of is found.
        """
        self._settings, self._rig, self._exercises = settings, rig, exercises

    def names(self) -> list[str]:
        """The names of the MIDI outputs that are connected."""
        from trainer.playback import midi_ports

        return [port.name for port in midi_ports.midi_outputs()]

    def open(self, port: str) -> Sounding:
        """Open the synth, or the MIDI port of a name; where that fails, a silent sink and the reason."""
        from trainer.music.problem import ProblemsError
        from trainer.playback.drivers import NoSoundError
        from trainer.playback.fluid import LibraryMissingError, SynthError
        from trainer.playback.port_names import PortError
        from trainer.session.silent_sink import SilentSink

        try:
            return _open_port(port) if port else _open_synth(self._settings(), self._rig())
        except ProblemsError as error:
            why = str(error.problems[0])
        except (NoSoundError, LibraryMissingError, SynthError, PortError, OSError) as error:
            why = str(error)
        return Sounding(SilentSink(), "silence", why)

    def render_again(self, timeline: "Timeline", plan: "Plan", start: Fraction) -> "Sound | None":
        """Render a pass again as the stand's synth played it."""
        from trainer.session.loop_check import rendered_pass

        settings = self._settings()
        return rendered_pass(timeline, plan, start, bank_of(settings), synth_options(settings))

    def hear_again(self, take: "KeptTake", beside: "Beside") -> "Replay":
        """Play a kept take on the player's sound card, with the player's sounds. Raises ProblemsError."""
        from trainer.session.replay import replay_on_card, sound_of_take

        sounds, rate = sound_of_take(take, beside, lambda: voices_of(self._settings(), self._rig()), self._exercises)
        return replay_on_card(sounds, rate, self._settings().output)


class OwnInputs:
    """The player's sound card, and the MIDI inputs that are connected."""

    def __init__(self, settings: "Callable[[], Settings]") -> None:
        """Open nothing yet.

        Args:
            settings: gives the player's settings.
        """
        self._settings = settings

    def names(self) -> list[str]:
        """The names of the MIDI inputs that are connected."""
        from trainer.playback import midi_ports

        return [port.name for port in midi_ports.midi_inputs()]

    def open(self, name: str) -> "Input":
        """Open the sound card's input, or the MIDI input of a name. Raises ProblemsError and PortError."""
        from trainer.playback.screen_output import stderr_to_sound_log
        from trainer.session.inputs import CardInput, MidiInput

        stderr_to_sound_log()
        if name:
            return MidiInput(self.open_midi(name), time.monotonic)
        return CardInput(self._settings().device, time.monotonic)

    def open_midi(self, name: str) -> "MidiSource":
        """Open a MIDI input by its name. Raises PortError."""
        from trainer.playback.midi_source import MidiSource

        return MidiSource(name)

    def latency_of(self, opened: "Input", sounding: Sounding) -> "CalibratedLatency | None":
        """What `twinspur calibrate` measured of an open input and of what sounds. Raises ProblemsError."""
        from trainer.session.latency import calibrated_latency

        return calibrated_latency(round_trips_file(), opened, sounding)


def _open_port(port: str) -> Sounding:
    from trainer.playback.port_sink import PortSink

    sink = PortSink(port)
    return Sounding(sink, sink.port, port=sink.port)


def _open_synth(settings: "Settings", rig: "Rig") -> Sounding:
    sink = open_synth(settings, click_keys_of(rig))
    return Sounding(sink, f"synth on {sink.driver}", latency_seconds=(sink.latency - sink.period / 2) / sink.rate)


def open_synth(settings: "Settings", keys: "ClickKeys", bank: Path | None = None) -> "SynthSink":
    """Open the synth on the driver that the settings name.

    Args:
        settings: the player's.
        keys: the keys that the click is played with.
        bank: the SoundFont; None for the player's.

    Raises:
        ProblemsError: the bank is no SoundFont.
        NoSoundError, LibraryMissingError, SynthError: there is no sound device, or no synthesiser.
    """
    from trainer.playback.audio_out import Device
    from trainer.playback.drivers import AUTOMATIC
    from trainer.playback.synth_sink import SynthSink
    from trainer.sounds.sound_bank import check_bank

    bank = bank or bank_of(settings)
    check_bank(bank)
    device = Device(settings.driver or AUTOMATIC, period=settings.period, periods=settings.periods)
    return SynthSink(bank, device, synth_options(settings), keys)


def click_keys_of(rig: "Rig") -> "ClickKeys":
    """The keys that a rig plays the click with."""
    from trainer.playback.synth_sink import ClickKeys
    from trainer.sounds.dynamics import Weight

    kit = rig.for_part("click").kit
    return ClickKeys() if kit is None else ClickKeys(kit.key("click")[0], kit.key("click", Weight.ACCENT)[0])


def bank_of(settings: "Settings") -> Path:
    """The SoundFont the player has chosen, or the built-in one."""
    from trainer.sounds.find_banks import built_in_bank

    return settings.bank or built_in_bank()


def synth_options(settings: "Settings") -> "SynthOptions":
    """The synth as the player's settings want it."""
    from trainer.playback.synth_options import SynthOptions, usual_gain

    usual = SynthOptions()
    gain = usual_gain(bank_of(settings)) if settings.gain is None else settings.gain
    return SynthOptions(rate=settings.rate or usual.rate, gain=gain)


def voices_of(settings: "Settings", rig: "Rig") -> "Voices":
    """What is heard beside a kept take: the player's bank and patches."""
    from trainer.session.played_again import Voices

    return Voices(rig, bank_of(settings), settings.gain)
