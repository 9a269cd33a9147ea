"""Whether a sound can be judged at all, and what may have spoilt it."""

import numpy as np

from trainer.listening.loop_in_take import loop_lag
from trainer.listening.sound import BLOCK, Samples, Sound

LEAST_RATE = 16_000
"""Below it an attack's edge is lost."""
LONGEST_S = 1_800.0
SHORTEST_S = 0.5
SILENCE = 10 ** (-66 / 20)
NOTHING = "No signal: check the cable, the input and its level."
CLIPPED = 0.985
"""A sample this near to the take's own peak, several times running, is cut off."""
CLIP_RUN = 4
CLIP_SHARE = 2e-4


def refusal(sound: Sound) -> str:
    """Why a sound cannot be judged, as a sentence; empty when it can."""
    if sound.rate < LEAST_RATE:
        return f"The take was recorded at {sound.rate} Hz, too coarse to time an attack: record at 44100 Hz or more."
    if sound.seconds > LONGEST_S:
        longest = clock(LONGEST_S)
        return f"The take lasts {clock(sound.seconds)}; one of up to {longest} is judged: cut out the pass you mean."
    if sound.seconds < SHORTEST_S:
        return "The take is shorter than half a second: there is nothing to judge."
    peak = sound.peak
    if not np.isfinite(peak):
        return "The take holds damaged samples (not a number): export it again."
    return NOTHING if peak < SILENCE else ""


def is_silent(samples: Samples) -> bool:
    """Whether nothing at all is in it: softer than a card's own noise."""
    return bool(max(samples.max(initial=0.0), -samples.min(initial=0.0)) < SILENCE)


def warnings(sound: Sound, loop: Sound | None = None) -> tuple[str, ...]:
    """What may have spoilt a take, as sentences.

    Args:
        sound: the take.
        loop: what the tool played meanwhile, where it is known.
    """
    told = []
    share = clipped_share(sound)
    if share > CLIP_SHARE:
        told.append(f"The input clips ({share:.1%} of the take): turn it down; times still hold, pitches may not.")
    if loop is not None and loop_lag(sound, loop) is not None:
        told.append("The loop comes through the microphone: use headphones, or a cable to the guitar.")
    return tuple(told)


def clipped_share(sound: Sound) -> float:
    """Share of the samples that stand at full scale several in a row."""
    peak = sound.peak
    if peak < 0.9:
        return 0.0
    count = 0
    for begin in range(0, len(sound.samples), BLOCK):
        piece = sound.samples[begin : begin + BLOCK + CLIP_RUN - 1]
        flat = np.abs(piece) >= CLIPPED * peak
        run = flat[CLIP_RUN - 1 :].copy()
        for step in range(1, CLIP_RUN):
            run &= flat[CLIP_RUN - 1 - step : len(flat) - step]
        count += int(run.sum())
    return count / max(1, len(sound.samples))


def clock(seconds: float) -> str:
    """A length as players read it: `3:00:00`, `0:42`."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02}:{rest % 60:02}" if hours else f"{rest // 60}:{rest % 60:02}"
