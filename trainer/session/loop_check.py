"""Whether the microphone hears the other parts or the click besides the player.

After a pass, all that sounded in it besides the player's part is rendered again as the synth played it, and looked for
in the take as a waveform. Comparing onsets would not do: the other guitar plays in the player's rhythm, and a player in
unison with it would be blamed; the waveforms of two guitars never agree. `tests/benchmarks/loop_in_microphone.py`
measures how often it is found, and how often it is found where it is not.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.listening.sound import Sound
    from trainer.playback.click_track import SilentBars
    from trainer.playback.mix import Mix
    from trainer.playback.plan import Plan
    from trainer.playback.synth_options import SynthOptions
    from trainer.playback.timeline import Timeline
    from trainer.session.heard_pass import PassToJudge
    from trainer.sounds.click_pattern import ClickPattern
    from trainer.sounds.rig import Rig

HEARD = "The microphone hears the other parts or the click, and they are judged with you: use headphones."
LATEST_S = 0.8
"""How late it may be heard, counted from the beginning of the take."""
SURE, SELDOM = 3, 8
"""After so many passes in a row in which nothing was heard, only one pass in so many is looked at."""

Renders = Callable[["Timeline", "Plan", Fraction], "Sound | None"]
"""Renders one pass as the synth plays it from a frame of its clock on; None where it cannot."""


@dataclass(frozen=True, slots=True)
class OtherSound:
    """What sounded in a pass besides the player's part."""

    mix: "Mix"
    """Without the player's part."""
    click: "ClickPattern | None"
    silent_bars: "SilentBars | None"
    start: Fraction
    """The frame of the synth's clock at which the pass began."""


class LoopCheck:
    """Looks at one pass after another."""

    def __init__(self, renders: Renders, rig: "Callable[[], Rig]") -> None:
        """Begin.

        Args:
            renders: renders what sounded.
            rig: gives the patches.
        """
        self._renders, self._rig = renders, rig
        self._clean = 0
        self.passes = 0
        """Passes that were looked at, or passed over as there was no need."""

    def __call__(self, item: "PassToJudge", take: "Sound") -> str:
        """The sentence to say of a pass; empty where nothing but the player was heard.

        Args:
            item: the pass.
            take: what came in, from shortly before its beginning on.
        """
        try:
            return self._sentence(item, take)
        finally:
            self.passes += 1

    def _sentence(self, item: "PassToJudge", take: "Sound") -> str:
        others = item.others
        if others is None or (self._clean >= SURE and self.passes % SELDOM):
            return ""
        loop = self._rendered(item, others)
        if loop is None:
            return ""
        from trainer.listening.loop_in_take import loop_lag

        heard = loop_lag(take, loop, latest_s=LATEST_S) is not None
        self._clean = 0 if heard else self._clean + 1
        return HEARD if heard else ""

    def _rendered(self, item: "PassToJudge", others: OtherSound) -> "Sound | None":
        from trainer.music.problem import ProblemsError
        from trainer.playback.plan import Plan
        from trainer.playback.timeline import Timeline

        passage = item.passage
        plan = Plan(
            loop=passage.loop, share=passage.share, passes=1, count_in=0, click=others.click,
            silent_bars=others.silent_bars, mix=others.mix,
        )  # fmt: skip
        try:
            return self._renders(Timeline.of(passage.piece, self._rig()), plan, others.start)
        except ProblemsError:
            return None


def rendered_pass(
    timeline: "Timeline", plan: "Plan", start: Fraction, bank: Path, options: "SynthOptions"
) -> "Sound | None":
    """Render one pass on a synth of its own; None where there is no synthesiser or the bank cannot be read.

    Args:
        timeline: the music.
        plan: its loop, tempo and mix.
        start: the frame of the synth's clock at which the pass began.
        bank: the SoundFont.
        options: how the synth sounds.
    """
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
