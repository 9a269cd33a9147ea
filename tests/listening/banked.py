"""A simulated player's take on the program's own synth: the exercise's patch, the built-in bank, the offline renderer.

A performance is the timeline's own tones, each moved to where the player strikes it. The program plays that timeline
through its transport, as it renders any other; nothing here knows how a take is judged.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache

import numpy as np

from tests.listening.plucked import Played
from tests.listening.sheets import Sheet
from trainer.listening.sound import Sound
from trainer.playback.frame_map import TempoCurve
from trainer.playback.mix import Mix
from trainer.playback.offline_synth import OfflineSynth
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.render import click_keys, sound_of
from trainer.playback.synth_options import SynthOptions
from trainer.playback.timeline import Timeline
from trainer.playback.tone import Tone
from trainer.sounds.find_banks import built_in_bank
from trainer.sounds.load_patches import load_patches
from trainer.sounds.rig import Rig
from trainer.sounds.sound_bank import check_bank

FINER = 16
"""Steps of a performance to one of the written music: 0.03 ms at 120 bpm."""
SHORTEST_S = 0.02
PLAIN_LOUDNESS = 0.88
"""The middle of what a simulated player's loudness wavers around; it is played at the written velocity."""


@cache
def rig() -> Rig:
    return load_patches().fitted_to(check_bank(built_in_bank()))


def rendered(sheet: Sheet, notes: Sequence[Played], seconds: float, rate: int = 48_000) -> Sound:
    """The dry part alone, as the program's renderer makes it; second 0 of the notes is second 0 of the take."""
    timeline, share = _performance(sheet, notes)
    mix = Mix().only([sheet.part], timeline.parts)
    options = SynthOptions(rate, reverb=False, chorus=False)
    synth = OfflineSynth(built_in_bank(), options, click_keys(timeline))
    pieces: list[np.ndarray] = []
    try:
        for piece in sound_of(timeline, Plan(timeline.piece.whole, share, mix=mix), synth):
            pieces.append(piece.mean(axis=1))
            if sum(map(len, pieces)) >= seconds * rate:
                break
    finally:
        synth.close()
    sound = np.concatenate(pieces)[: round(seconds * rate)]
    return Sound(np.pad(sound, (0, max(0, round(seconds * rate) - len(sound)))).astype(np.float32), rate)


def treated(sound: Sound, seed: int, noise_db: float, drive: float = 0.0) -> Sound:
    """With the noise and the drive of a player's own chain."""
    samples = 0.3 * sound.samples / (np.abs(sound.samples).max() + 1e-9)
    if drive:
        samples = 0.3 * np.tanh(drive * samples / 0.3)
    noise = np.random.default_rng(seed).normal(0, 10 ** (noise_db / 20), len(samples))
    return Sound((samples + noise).astype(np.float32), sound.rate)


def _performance(sheet: Sheet, notes: Sequence[Played]) -> tuple[Timeline, Fraction]:
    """The timeline of what is played, and the share of the target tempo at which its places are what they should be."""
    piece = Piece.of(sheet.exercise, (sheet.riff,) * 4)  # the lead-in and what rings on need room
    written = Timeline.of(piece, rig())
    share = sheet.tempo / sheet.riff.tempo.target
    steps = written.curve.steps * FINER
    first, last = (sheet.riff.bar_starts[bar] * written.curve.steps for bar in (sheet.bars[0] - 1, sheet.bars[1]))
    part = next(i for i, voice in enumerate(written.voices) if voice.part == sheet.part)
    strokes: dict[int, list[Tone]] = {}
    for tone in written.tones:
        if tone.voice == part and first <= tone.step < last:
            strokes.setdefault(tone.step, []).append(tone)
    in_order = [strokes[step] for step in sorted(strokes)]
    curve = TempoCurve(written.curve.spans, steps)

    def step_at(seconds: float) -> int:
        return round(curve.place(max(Fraction(0), Fraction(seconds) * share)) * steps)

    def length(tone: Tone) -> float:
        places = (Fraction(step, written.curve.steps) for step in (tone.step, tone.end))
        begin, end = (written.curve.at(place) for place in places)
        return float((end - begin) / share)

    order = sorted(notes, key=lambda note: note.at_s)
    tones: list[Tone] = []
    asked = sheet.written
    for note, following in zip(order, [*order[1:], None], strict=True):
        until = following.at_s if following else float("inf")
        own = asked.strokes[note.of]
        for k, tone in enumerate(in_order[note.of]):
            shift = note.pitches[min(k, len(note.pitches) - 1)] - own.pitches[min(k, len(own.pitches) - 1)] if (
                note.pitches and own.pitches
            ) else 0  # fmt: skip
            start = note.at_s + note.strum_s * k / max(1, len(in_order[note.of]) - 1)
            held = length(tone) * note.length_s / float(own.length)
            end = max(start + SHORTEST_S, min(start + held, until - 0.0005))
            velocity = max(1, min(127, round(tone.velocity * (note.loudness / PLAIN_LOUDNESS) ** 0.5)))
            tones.append(tone._replace(step=step_at(start), end=step_at(end), key=tone.key + shift, velocity=velocity))
    return replace(written, curve=curve, tones=tuple(sorted(tones))), share
