"""Whether the microphone hears what the stand plays besides the player's part.

After a pass, what else sounded in it (the other parts, the click) is rendered again as the synth played it, and looked
for in the take as a waveform. Onsets would not do: the other guitar plays in the player's rhythm, and a player in
unison with it would be blamed; two guitars' waveforms never agree (`tests/benchmarks/loop_in_microphone.py` tells how
often it is found, and how often it is found where it is not).
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.music.problem import ProblemsError
from trainer.playback.click_track import SilentBars
from trainer.playback.mix import Mix
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.screens.render_again import Renders
from trainer.sounds.click_pattern import ClickPattern

if TYPE_CHECKING:
    from trainer.listening.sound import Sound
    from trainer.screens.asked import Asked
    from trainer.sounds.rig import Rig

HEARD = "The microphone hears the other parts or the click, and they are judged with you: use headphones."
LATEST_S = 0.8
"""How late it may be heard, counted from the beginning of the take."""
SURE, SELDOM = 3, 8
"""After so many passes without them in a row, only one pass in so many is looked at."""


@dataclass(frozen=True, slots=True)
class Beside:
    """What sounded in a pass besides the player's part."""

    mix: Mix
    """Without the player's part."""
    click: ClickPattern | None
    silent_bars: SilentBars | None
    start: Fraction
    """The frame of the synth's clock at which the pass began."""


class LoopHeard:
    """Looks at one pass after another."""

    def __init__(self, renders: Renders, rig: "Callable[[], Rig]") -> None:
        """Begin.

        Args:
            renders: renders what sounded.
            rig: gives the patches.
        """
        self._renders, self._rig = renders, rig
        self._clean = self._passes = 0

    def __call__(self, item: "Asked", take: "Sound") -> str:
        """What to say of a pass; empty where nothing but the player was heard.

        Args:
            item: the pass.
            take: what came in, from shortly before its beginning on.
        """
        try:
            return self._said(item, take)
        finally:
            self._passes += 1

    def _said(self, item: "Asked", take: "Sound") -> str:
        beside = item.beside
        if beside is None or (self._clean >= SURE and self._passes % SELDOM):
            return ""
        loop = self._rendered(item, beside)
        if loop is None:
            return ""
        from trainer.listening.loop_in_take import loop_lag

        heard = loop_lag(take, loop, latest_s=LATEST_S) is not None
        self._clean = 0 if heard else self._clean + 1
        return HEARD if heard else ""

    def _rendered(self, item: "Asked", beside: Beside) -> "Sound | None":
        music = item.music
        plan = Plan(
            loop=music.loop, share=music.share, passes=1, count_in=0, click=beside.click,
            silent_bars=beside.silent_bars, mix=beside.mix,
        )  # fmt: skip
        try:
            return self._renders(Timeline.of(music.piece, self._rig()), plan, beside.start)
        except ProblemsError:
            return None
