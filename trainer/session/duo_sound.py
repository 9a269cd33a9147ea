"""Two kept takes of one riff as one stereo sound: each on its side, their first beats together."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from trainer.listening.take_info import TakeInfo
from trainer.music.problem import Problem, ProblemsError
from trainer.session.played_again import Beside, Voices
from trainer.session.replay import sound_of_take

if TYPE_CHECKING:
    from trainer.listening.takes import KeptTake
    from trainer.playback.streams import Stereo
    from trainer.session.machine import Exercises

SAME_TEMPO = 0.0005
"""Tempos that differ by less drift apart by less than a millisecond in two seconds: they count as one."""


def why_not(one: TakeInfo, other: TakeInfo) -> str:
    """Why two takes cannot be put together, as a sentence; empty where they can."""
    if (one.exercise, one.riff, one.form) != (other.exercise, other.riff, other.form):
        return f"They are not of one riff: {one.what}; {other.what}."
    if one.first_bar != other.first_bar:
        return f"They do not begin at one bar: bars {one.bars}; bars {other.bars}."
    if one.tempo_bpm is None or other.tempo_bpm is None:
        return "One of them does not say its tempo."
    if abs(one.tempo_bpm - other.tempo_bpm) > SAME_TEMPO * one.tempo_bpm:
        tempos = f"{one.tempo_bpm:g} and {other.tempo_bpm:g} bpm"
        return f"They were played at {tempos}: only takes at one tempo can be put together."
    return ""


def duo_sound(
    one: "KeptTake", other: "KeptTake", voices: Callable[[], Voices], exercises: "Exercises"
) -> "tuple[Stereo, int]":
    """Both takes, the first one left, from the earlier beginning to the later end, and the frames a second.

    Args:
        one: heard left.
        other: heard right.
        voices: gives what a MIDI take sounds with.
        exercises: where what a MIDI take is of is found.

    Raises:
        SoundMissingError: there is no synthesiser for a MIDI take.
        ProblemsError: a take cannot be read, or the two were recorded at different rates.
    """
    (left, rate), (right, other_rate) = (_mono(take, voices, exercises) for take in (one, other))
    if rate != other_rate:
        what = f"The takes were recorded at {rate} and {other_rate} frames a second"
        raise ProblemsError([Problem("", 0, 0, what, hint="Record both at one rate")])
    apart = round((one.info.begins_s - other.info.begins_s) * rate)
    starts = (max(0, -apart), max(0, apart))
    sound = np.zeros((max(starts[0] + len(left), starts[1] + len(right)), 2), np.float32)
    sound[starts[0] : starts[0] + len(left), 0] = left
    sound[starts[1] : starts[1] + len(right), 1] = right
    return sound, rate


def _mono(take: "KeptTake", voices: Callable[[], Voices], exercises: "Exercises") -> "tuple[Stereo, int]":
    """A take's sound on one channel, and its frames a second."""
    pieces, rate = sound_of_take(take, Beside.NOTHING, voices, exercises)
    whole = np.concatenate([np.asarray(piece, np.float32).reshape(-1, 2) for piece in pieces])
    return whole.mean(axis=1, dtype=np.float32), rate
