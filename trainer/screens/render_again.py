"""Rendering again what the stand's synth played, without a device, so that it can be looked for in a take."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.listening.sound import Sound
    from trainer.playback.plan import Plan
    from trainer.playback.synth_options import SynthOptions
    from trainer.playback.timeline import Timeline

Renders = Callable[["Timeline", "Plan", Fraction], "Sound | None"]
"""Renders a plan of one pass as the synth plays it from a frame of its clock on; None where it cannot."""


def renders_nothing(_timeline: "Timeline", _plan: "Plan", _start: Fraction) -> "Sound | None":
    """There is no synth."""
    return None


def renders_on(bank: Path, options: "SynthOptions") -> Renders:
    """What renders on a synth of its own.

    Args:
        bank: the SoundFont.
        options: how the synth sounds.
    """

    def render(timeline: "Timeline", plan: "Plan", start: Fraction) -> "Sound | None":
        import numpy as np

        from trainer.listening.sound import Sound
        from trainer.playback.fluid import BLOCK, LibraryMissingError, SynthError
        from trainer.playback.offline_synth import OfflineSynth
        from trainer.playback.render import click_keys, sound_of

        try:
            synth = OfflineSynth(bank, options, click_keys(timeline))
        except (SynthError, LibraryMissingError):
            return None
        try:
            if int(start) % BLOCK:  # notes begin with a block: at the same places of it as they did
                synth.render(int(start) % BLOCK)
            pieces = list(sound_of(timeline, plan, synth))
        finally:
            synth.close()
        seconds = float(timeline.seconds(plan.loop, plan.share))
        mono = np.concatenate(pieces).mean(axis=1)[: round(seconds * options.rate)]
        return Sound(np.ascontiguousarray(mono, np.float32), options.rate)

    return render
