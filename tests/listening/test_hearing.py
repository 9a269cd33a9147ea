"""Audio takes: every written stroke is found where it was played, and at the pitch that was played."""

from dataclasses import replace

import numpy as np
import pytest

from tests.listening.plucked import RATE, Played, gallop, line, player, record
from trainer.listening.hearing import Hearing, hear
from trainer.listening.sound import Sound
from trainer.listening.written import WrittenPart

RIFF = (40, 40, 43, 45, 47, 50, 52, 50, 55, 57, 59, 57, 52, 50, 47, 45)


def errors_ms(hearing: Hearing, notes: list[Played]) -> np.ndarray:
    off = np.array([heard.at_s - note.at_s for heard, note in zip(hearing.strokes, notes, strict=True) if heard]) * 1000
    return off - np.median(off)


def take(written: WrittenPart, notes: list[Played], **chain: float) -> Sound:
    return record(notes, float(written.length) + 2.0, **chain)  # type: ignore[arg-type]


def test_every_stroke_of_a_gallop_is_found_within_a_millisecond() -> None:
    written = gallop(140, bars=4)
    notes = player(written, jitter_ms=8)
    hearing = hear(take(written, notes), written)
    assert all(hearing.strokes)
    assert np.abs(errors_ms(hearing, notes)).max() < 1.0
    assert not hearing.extras


@pytest.mark.parametrize("start", [0.3, 0.95, 1.6])
def test_the_start_may_be_unknown(start: float) -> None:
    written = gallop(160, bars=2)
    notes = player(written, start_s=start, jitter_ms=6)
    hearing = hear(take(written, notes), written)
    assert all(hearing.strokes)
    assert abs(hearing.alignment.start_s - start) < 0.02


def test_missed_and_wrong_notes_are_named() -> None:
    written = line(RIFF * 2, 120)
    notes = player(written)
    played = [replace(note, pitches=(note.pitches[0] + 5,)) if k == 7 else note for k, note in enumerate(notes)]
    del played[20], played[4]
    hearing = hear(take(written, played), written)
    assert [k for k, heard in enumerate(hearing.strokes) if heard is None] == [4, 20]
    assert {k: heard.shift for k, heard in enumerate(hearing.strokes) if heard and heard.shift} == {7: 5}


def test_an_extra_note_is_reported_and_a_string_noise_is_not() -> None:
    written = line(RIFF, 100)
    notes = player(written)
    extra = Played(notes[5].at_s + 0.15, 0.12, (notes[5].pitches[0] + 2,))
    sound = take(written, [*notes, extra])
    rng = np.random.default_rng(3)
    ghost = int((notes[10].at_s + 0.15) * RATE)
    sound.samples[ghost : ghost + 900] += (rng.normal(0, 0.08, 900) * np.exp(-np.arange(900) / 200)).astype(np.float32)
    hearing = hear(sound, written)
    assert [round(found.at_s - extra.at_s, 2) for found in hearing.extras] == [0.0]
    assert all(hearing.strokes)


def test_a_hammered_note_is_found_by_its_new_pitch() -> None:
    written = line((57, 59, 60, 59, 57, 60, 62, 60), 90)
    strokes = tuple(replace(stroke, slurred=k % 2 == 1) for k, stroke in enumerate(written.strokes))
    written = replace(written, strokes=strokes)
    notes = player(written)
    hearing = hear(take(written, notes), written)
    assert all(hearing.strokes)
    assert np.abs(errors_ms(hearing, notes)).max() < 6.0


@pytest.mark.parametrize("chain", [{"drive": 6.0}, {"noise_db": -40.0}, {"rate": 44_100}, {"rate": 96_000}])
def test_drive_noise_and_rate_change_little(chain: dict[str, float]) -> None:
    written = line(RIFF, 110)
    notes = player(written)
    hearing = hear(take(written, notes, **chain), written)
    assert all(hearing.strokes)
    assert np.median(np.abs(errors_ms(hearing, notes))) < 1.0
    assert not [heard for heard in hearing.strokes if heard and heard.shift]


def test_a_constant_gain_changes_nothing() -> None:
    written = gallop(130, bars=2)
    sound = take(written, player(written), noise_db=-70.0)
    loud, soft = (hear(Sound(sound.samples * np.float32(gain), RATE), written) for gain in (1.0, 0.1))
    assert [heard and round(heard.at_s, 4) for heard in loud.strokes] == [
        heard and round(heard.at_s, 4) for heard in soft.strokes
    ]


def test_a_note_struck_twice_is_an_extra_of_its_own_pitch() -> None:
    written = line(RIFF, 90)
    notes = player(written)
    doubled = [4, 9, 13]
    again = [replace(notes[k], at_s=notes[k].at_s + 0.11, length_s=0.2, loudness=0.9) for k in doubled]
    hearing = hear(take(written, sorted([*notes, *again], key=lambda note: note.at_s)), written)
    assert all(hearing.strokes)
    assert [
        (round(found.at_s - note.at_s, 2), found.pitch) for found, note in zip(hearing.extras, again, strict=True)
    ] == [(0.0, note.pitches[0]) for note in again]


THIRDS = ((52, 55), (54, 57), (55, 59), (57, 60), (59, 62), (60, 64), (62, 66), (64, 67))


@pytest.mark.parametrize("drive", [0.0, 3.0])
def test_the_chord_beside_the_written_one_is_told_though_it_is_of_another_shape(drive: float) -> None:
    written = line((*THIRDS, *THIRDS[::-1]), 110)
    slips = {3: THIRDS[2], 5: THIRDS[6], 9: THIRDS[5], 12: THIRDS[1]}
    notes = player(written)
    played = [replace(note, pitches=slips.get(k, note.pitches)) for k, note in enumerate(notes)]
    hearing = hear(take(written, played, drive=drive), written)
    told = {k: heard.shift for k, heard in enumerate(hearing.strokes) if heard and heard.shift}
    assert told == {k: slip[0] - written.strokes[k].pitches[0] for k, slip in slips.items()}


def test_strings_that_beat_through_the_most_drive_bring_few_extra_notes() -> None:
    """Louder places without anything new are left out, half of all; what beats as hard as strings are struck stays."""
    written = line(THIRDS * 2, 100, grid=1)
    told = [hear(take(written, player(written, seed=seed), drive=30.0), written).extras for seed in range(3)]
    assert sum(map(len, told)) <= 10


def test_a_weak_wrong_note_must_bring_something_new(monkeypatch: pytest.MonkeyPatch) -> None:
    written = line(RIFF, 100)
    notes = player(written)
    slips = {k: replace(notes[k], pitches=(notes[k].pitches[0] + 5,), loudness=0.35) for k in (6, 11)}
    sound = take(written, [slips.get(k, note) for k, note in enumerate(notes)])
    assert {k: heard.shift for k, heard in enumerate(hear(sound, written).strokes) if heard and heard.shift} == {
        6: 5,
        11: 5,
    }
    monkeypatch.setattr("trainer.listening.pitches.news", lambda *_: 1.0)
    assert [k for k, heard in enumerate(hear(sound, written).strokes) if heard is None] == [6, 11]
