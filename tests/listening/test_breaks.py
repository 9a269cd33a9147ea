"""Strokes that bring no new strength are found where the sound breaks off, and nowhere else."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.listening.banked import rendered
from tests.listening.plucked import player
from tests.listening.sheets import Sheet, bundled_parts
from trainer.listening.breaks import struck_twice, struck_without_strength
from trainer.listening.growing_sound import GrowingSound
from trainer.listening.hearing import Hearing, hear
from trainer.listening.sound import Sound

RATE = 11_025
CHORD = (41, 47)


def ringing(seconds: float, pitches: tuple[int, ...] = CHORD) -> np.ndarray:
    """A chord of strings with ten partials each, as loud at every start."""
    time = np.arange(round(seconds * RATE)) / RATE
    sound = np.zeros(len(time))
    for pitch in pitches:
        for number in range(1, 11):
            hertz = number * 440 * 2 ** ((pitch - 69) / 12)
            sound += np.exp(-time * number / 4) * np.sin(2 * np.pi * hertz * time) / number
    return sound


def sound_of(*pieces: np.ndarray) -> Sound:
    rng = np.random.default_rng(1)
    joined = np.concatenate(pieces)
    return Sound((0.1 * joined + rng.normal(0, 1e-4, len(joined))).astype(np.float32), RATE)


def test_a_chord_struck_again_breaks_off_what_rang() -> None:
    sound = sound_of(ringing(0.6), ringing(0.6))
    found = struck_without_strength(sound, 0.57, 0.0, sound.seconds)
    assert found == pytest.approx(0.6, abs=0.003)


def test_a_chord_that_rings_on_does_not() -> None:
    sound = sound_of(ringing(1.2))
    assert struck_without_strength(sound, 0.6, 0.0, sound.seconds) is None


def test_a_chord_that_is_damped_is_not_struck_again() -> None:
    sound = sound_of(ringing(0.6), 0.15 * ringing(1.2)[round(0.6 * RATE) :])
    assert struck_without_strength(sound, 0.6, 0.0, sound.seconds) is None


def test_a_string_struck_twice_begins_anew() -> None:
    sound = sound_of(ringing(0.3, (50,)), ringing(0.08, (50,)), ringing(0.4, (50,)))
    assert struck_twice(sound, 0.38, 0.3, sound.seconds)


def test_a_string_struck_once_does_not() -> None:
    sound = sound_of(ringing(0.3, (50,)), ringing(0.48, (50,)))
    assert not struck_twice(sound, 0.38, 0.3, sound.seconds)


def sheet(riff_name: str, tempo_share: Fraction = Fraction(1)) -> Sheet:
    """A riff's first bars for the second guitar, or the first where it is alone."""
    exercise, riff, part = next(each for each in reversed(bundled_parts()) if each[1].name == riff_name)
    return Sheet(exercise, riff, part, (1, min(4, len(riff.meters))), riff.tempo.start * tempo_share)


def take(chosen: Sheet, *, without: tuple[int, ...] = ()) -> Sound:
    notes = [note for note in player(chosen.written, jitter_ms=3) if note.of not in without]
    for left_out in without:  # the stroke before it rings on
        notes = [
            replace(note, length_s=note.length_s + float(chosen.written.strokes[left_out].length))
            if note.of == left_out - 1
            else note
            for note in notes
        ]
    return rendered(chosen, notes, float(chosen.written.length) + 2.0)


@pytest.mark.parametrize("riff", ["Low water", "Below the waterline", "Missing stone", "Careen", "Seven stones"])
def test_soft_strokes_and_chords_struck_again_are_found_in_the_bank_s_sound(riff: str) -> None:
    chosen = sheet(riff, Fraction(4, 5))
    hearing = hear(take(chosen), chosen.written)
    assert all(hearing.strokes)


def test_one_that_was_really_left_out_is_still_missed() -> None:
    chosen = sheet("Low water")
    again = [
        index
        for index in range(1, len(chosen.written.strokes))
        if chosen.written.strokes[index].pitches == chosen.written.strokes[index - 1].pitches
    ]
    hearing = hear(take(chosen, without=(again[1],)), chosen.written)
    assert [index for index, heard in enumerate(hearing.strokes) if heard is None] == [again[1]]


@pytest.mark.parametrize("riff", ["Squall line", "Two lamps", "Dawn chase"])
def test_a_note_struck_twice_as_loudly_as_it_rings_is_a_double(riff: str) -> None:
    chosen = sheet(riff)
    strokes, notes = chosen.written.strokes, player(chosen.written, jitter_ms=3)
    index = next(
        index
        for index in range(4, len(strokes) - 1)
        if len(strokes[index].pitches) == 1 and float(strokes[index + 1].at - strokes[index].at) > 0.2
    )
    again = replace(notes[index], at_s=notes[index].at_s + 0.08)
    hearing = hear(rendered(chosen, [*notes, again], float(chosen.written.length) + 2.0), chosen.written)
    assert all(hearing.strokes)
    (found,) = hearing.extras
    assert found.at_s == pytest.approx(again.at_s, abs=0.015)
    assert (found.pitch,) == strokes[index].pitches
    assert not hear(take(chosen), chosen.written).extras


def test_it_is_the_same_in_a_sound_that_grows() -> None:
    chosen = sheet("Low water")
    whole = take(chosen)

    def told(hearing: Hearing) -> list[tuple[float, float] | None]:
        return [(heard.at_s, heard.strength) if heard else None for heard in hearing.strokes]

    growing = GrowingSound(whole.rate)
    for begin in range(0, len(whole.samples), 2 * whole.rate):
        growing.add(whole.samples[begin : begin + 2 * whole.rate])
        hear(growing.sound(), chosen.written)
    assert told(hear(growing.sound(), chosen.written)) == told(hear(whole, chosen.written))
