"""What a synth is made with, the same for hearing and for rendering, so that what is rendered is what is heard."""

from dataclasses import dataclass
from pathlib import Path

from trainer.playback import fluid, sound_log
from trainer.sounds.find_banks import built_in_bank

USUAL_GAIN = 0.4
"""FluidSynth's own default is 0.2, made for sixteen busy channels of any bank."""

BUILT_IN_GAIN = 1.15
"""The gain at which the bundled exercises, played by the built-in bank, lie at -16 to -19 LUFS with true peaks of -3
dBTP at most (`python -m tests.benchmarks.mix`)."""


def usual_gain(bank: Path) -> float:
    """The gain for a bank where the player has set none: the built-in one's loudness is known."""
    return BUILT_IN_GAIN if bank == built_in_bank() else USUAL_GAIN


@dataclass(frozen=True, slots=True)
class SynthOptions:
    """The settings of a synth that change its sound."""

    rate: int = 48000
    """Frames a second."""
    gain: float = USUAL_GAIN
    """The master gain, 0 to 10."""
    reverb: bool = True
    """Whether reverb is rendered for channels that send to it (CC 91)."""
    chorus: bool = True
    """Whether chorus is rendered for channels that send to it (CC 93)."""
    voices: int = 256
    """How many voices may sound at once."""
    channels: int = 256
    """How many channels there are; a multiple of 16, at most 256."""

    def make(self, bank: Path | None) -> fluid.Synth:
        """A synth that plays `bank`, or is given one later, with its messages sent to the log.

        Raises LibraryMissingError, and SynthError where the bank cannot be read.
        """
        sound_log.hush()
        settings = fluid.FluidSettings()
        settings.set("synth.sample-rate", float(self.rate))
        settings.set("synth.gain", self.gain)
        settings.set("synth.reverb.active", int(self.reverb))
        settings.set("synth.chorus.active", int(self.chorus))
        settings.set("synth.polyphony", self.voices)
        settings.set("synth.midi-channels", self.channels)
        synth = fluid.Synth(settings)
        try:
            if bank is not None:
                synth.load_bank(bank)
        except fluid.SynthError:
            synth.close()
            raise
        return synth
