"""Rendering to an audio file: the transport on a virtual clock, so what is rendered is what is heard."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.playback.audio_file import AudioFile, WrittenFile
from trainer.playback.mix import CLICK
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.plan import Plan
from trainer.playback.share import PassReport
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_sink import ClickKeys
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.dynamics import Weight

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

CHUNK_SECONDS = Fraction(1, 2)
"""What is rendered between two calls of the transport."""
AHEAD_SECONDS = Fraction(1)

LONGEST_TAIL = 4
"""Seconds that notes may take to die away after the last pass."""
_SILENCE = 10 ** (-66 / 20)
_LEAD_SECONDS = Fraction(1, 50)

NextShare = Callable[[PassReport], Fraction | None]


@dataclass(frozen=True, slots=True)
class Rendered:
    """What was rendered to a file."""

    file: WrittenFile
    seconds: float
    passes: tuple[PassReport, ...]


def render_audio(  # noqa: PLR0917  # the last two have defaults
    timeline: Timeline,
    plan: Plan,
    path: Path,
    bank: Path,
    options: SynthOptions | None = None,
    next_share: NextShare | None = None,
    finishing: Callable[[Path], object] = lambda path: None,
) -> Rendered:
    """Play a plan to its end into an audio file (WAV, FLAC, OGG or MP3 by its ending), with what dies away after it.

    Args:
        timeline: what to play.
        plan: how; its passes must have an end.
        path: the new file; it takes the place of an old one only when it is complete.
        bank: the SoundFont to play.
        options: how the synth sounds.
        next_share: as in `Transport`.
        finishing: does more to the file before it stands at its path.

    Raises:
        ProblemsError: the file cannot be written.
        SynthError: the bank cannot be read.
        LibraryMissingError: libfluidsynth is not installed.
        ValueError: the plan has no end.
    """
    reports: list[PassReport] = []
    options = options or SynthOptions()
    with AudioFile(path, options.rate) as file:
        synth = OfflineSynth(bank, options, click_keys(timeline))
        try:
            for sound in sound_of(timeline, plan, synth, next_share=next_share, on_pass=reports.append):
                file.write(sound)
        finally:
            synth.close()
        written = file.finish(finishing)
    return Rendered(written, written.frames / options.rate, tuple(reports))


def sound_of(
    timeline: Timeline,
    plan: Plan,
    synth: OfflineSynth,
    *,
    next_share: NextShare | None = None,
    on_pass: Callable[[PassReport], None] | None = None,
) -> Iterator["NDArray[np.float32]"]:
    """The sound of a plan from its first downbeat (or count-in), piece by piece: arrays of shape (frames, 2).

    Raises ValueError where the plan has no end.
    """
    if plan.passes is None and next_share is None:
        raise ValueError("playing without end cannot be rendered")
    transport = Transport(timeline, synth, plan, next_share=next_share, on_pass=on_pass, ahead_seconds=AHEAD_SECONDS)
    transport.play(0 if plan.human_seed is None else int(_LEAD_SECONDS * synth.rate))
    chunk = int(CHUNK_SECONDS * synth.rate)
    while transport.advance():
        yield synth.render(chunk)
    for _ in range(int(LONGEST_TAIL / CHUNK_SECONDS)):
        sound = synth.render(chunk)
        yield sound
        if float(abs(sound).max()) < _SILENCE:
            return


def click_keys(timeline: Timeline) -> ClickKeys:
    """The keys that sound the click, by the click's patch."""
    kit = timeline.voice(CLICK).patch.kit
    assert kit is not None  # noqa: S101  # `lay_out` gives the click a patch with a kit
    return ClickKeys(kit.key("click")[0], kit.key("click", Weight.ACCENT)[0])
