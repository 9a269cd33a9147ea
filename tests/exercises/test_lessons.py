"""What lessons say of their notes, held against the notes."""

from fractions import Fraction
from itertools import pairwise

from tests.exercises.bundled import NAMES, load
from trainer.arranging.explain import explain
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi, sounding


def riff(exercise: str, name: str) -> Riff:
    found = load(exercise).sounding.riff(name)
    assert found is not None
    return found


def part(exercise: str, name: str) -> TabPart:
    return riff(exercise, name).tabs[0]


def test_iron_causeway_leaves_the_open_string_for_one_beat_a_bar_and_in_the_last_for_two() -> None:
    beats = [
        sorted({int(m.offset * 4) + 1 for m in bar for note in m.notes if note.fret})
        for bar in part("iron-causeway", "Low road").bars
    ]
    assert beats == [[4], [3], [4], [2, 3]]


def test_drowned_chapel_is_tritones_with_a_sixth_and_one_fifth_near_the_end() -> None:
    guitar = part("drowned-chapel", "Low water")
    keys = [
        sorted(note_midi(guitar.instrument, note) for note in moment.notes)
        for bar in guitar.bars
        for moment in bar
        if len(moment.notes) == 2
    ]
    sizes = [high - low for low, high in keys]
    assert sizes[-3:] == [8, 7, 6]
    assert set(sizes[:-3]) == {6}


def test_heron_steps_goes_up_to_the_thirteenth_fret_on_one_string_or_two() -> None:
    frets: set[int] = set()
    for name in ("Wading", "Taking wing"):
        notes = [note for bar in part("heron-steps", name).bars for moment in bar for note in moment.notes]
        frets |= {note.fret for note in notes}
        assert len({note.string for note in notes}) <= 2
    assert max(frets) == 13


def test_harbour_chain_mutes_roots_between_open_chords() -> None:
    moments = [moment for bar in part("harbour-chain", "Links").bars for moment in bar]
    assert all(moment.mute != (len(moment.notes) > 1) for moment in moments if moment.notes)


def test_the_long_watch_has_the_intervals_it_names() -> None:
    numbers = {
        pair.summary.main
        for one in load("the-long-watch").sounding.riffs
        for pair in explain(one).pairs
        if pair.summary is not None and not pair.with_bass and pair.summary.share == 1
    }
    assert numbers >= {3, 5, 6, 8}


def test_plumb_lines_first_riff_is_in_the_mode_it_declares() -> None:
    cord = riff("plumb-line", "Cord")
    modes = explain(cord).modes
    assert modes is not None
    assert modes.best == cord.key


def test_iron_causeways_long_note_is_as_long_as_the_two_short_ones() -> None:
    offsets = [moment.offset for moment in part("iron-causeway", "Low road").bars[0]]
    gaps = [two - one for one, two in pairwise(offsets)]
    assert gaps[:3] == [Fraction(1, 8), Fraction(1, 16), Fraction(1, 16)]


def test_nothing_rings_on_into_the_next_chord() -> None:
    """The hand lifts off for the change: what rang under one chord name has ended when the next one begins."""
    over = [
        (name, each.name, tab.name, str(at))
        for name in NAMES
        for each in load(name).sounding.riffs
        for at in chord_places(each)
        for tab in each.tabs
        if any(note.moment.ring and note.at < at < note.end for note in sounding(tab, each.bar_starts))
    ]
    assert over == []


def chord_places(one: Riff) -> list[Fraction]:
    return [
        start + moment.offset
        for tab in one.tabs
        for bar, start in zip(tab.bars, one.bar_starts, strict=False)
        for moment in bar
        if moment.chord
    ]
