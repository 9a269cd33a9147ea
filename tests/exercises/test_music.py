"""The bundled exercises' music, by numbers: what each says it teaches is what its notes do."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.exercises.bundled import every, load, notes, riff_of
from trainer.arranging.realise import realise
from trainer.arranging.scale import spell
from trainer.music.interval import Distance, Interval
from trainer.music.key import Key
from trainer.music.note import Attack
from trainer.music.part import HarmonyPart
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote

QUICK = Fraction(1, 5)
"""Seconds between two notes below which the hand cannot change position."""
SPAN = 5
"""Frets between two fretted notes that one position covers at most (a stretch of one beyond the four fingers)."""


def intervals(riff: Riff, low: str, high: str) -> list[Interval]:
    """The interval from one part to another at every count on which both start one note."""
    found = []
    starts: dict[str, dict[Fraction, list[int]]] = {low: {}, high: {}}
    for part, at in starts.items():
        for note in notes(riff, part):
            at.setdefault(note.at, []).append(note.midi)
    for at in sorted(starts[low].keys() & starts[high].keys()):
        first, second = starts[low][at], starts[high][at]
        if len(first) == len(second) == 1:
            found.append(Interval.between(spell(riff.key, first[0]), spell(riff.key, second[0])))
    return found


def names(found: Iterable[Interval]) -> set[str]:
    return {str(interval) for interval in found}


def riffs() -> list[tuple[str, Riff]]:
    return [(f"{found.exercise.id}/{riff.name}", riff) for found in every() for riff in found.sounding.riffs]


@pytest.mark.parametrize(
    ("name", "riff", "low", "high", "expected"),
    [
        ("lamplighters", "First lamp", "guitar 1", "guitar 2", {"m3", "M3"}),
        ("nine-oars", "All together", "guitar 1", "guitar 2", {"m3", "M3"}),
        ("half-moon", "Light and dark", "guitar 1", "guitar 2", {"m3", "M3"}),
        ("ferry-bells", "Out", "guitar 2", "guitar 1", {"m6", "M6"}),
        ("ferry-bells", "Home", "guitar 1", "guitar 2", {"m6", "M6"}),
        ("plumb-line", "Cord", "guitar 1", "guitar 2", {"P4"}),
        ("plumb-line", "Wall", "guitar 1", "guitar 2", {"P4"}),
        ("fifth-beacon", "First fire", "guitar 1", "guitar 2", {"P5"}),
        ("fifth-beacon", "Second fire", "guitar 1", "guitar 2", {"P5"}),
        ("two-roads-home", "Shore and ridge", "guitar 1", "guitar 2", {"P1"}),
        ("the-long-watch", "Two lamps", "guitar 1", "guitar 2", {"m3", "M3"}),
        ("the-long-watch", "Becalmed", "guitar 2", "guitar 1", {"m6", "M6"}),
        ("the-long-watch", "Dawn chase", "guitar 1", "guitar 2", {"P5"}),
        ("the-long-watch", "Home light", "guitar 2", "guitar 1", {"P8"}),
    ],
)
def test_the_second_guitar_keeps_the_interval_that_is_taught(
    name: str, riff: str, low: str, high: str, expected: set[str]
) -> None:
    found = intervals(riff_of(name, riff), low, high)
    assert len(found) >= 19
    assert names(found) == expected


def test_two_notes_of_the_second_lamp_leave_the_thirds() -> None:
    found = Counter(map(str, intervals(riff_of("lamplighters", "Second lamp"), "guitar 2", "guitar 1")))
    assert found.pop("P4") == 2
    assert set(found) == {"m3", "M3"}


@pytest.mark.parametrize(
    ("name", "riff", "interval"),
    [
        ("lamplighters", "First lamp", "third above"),
        ("ferry-bells", "Out", "sixth below"),
        ("plumb-line", "Cord", "perfect fourth above"),
        ("fifth-beacon", "First fire", "perfect fifth above"),
        ("fifth-beacon", "Second fire", "perfect fifth above"),
    ],
)
def test_seconds_written_by_hand_are_what_the_arranging_room_computes(name: str, riff: str, interval: str) -> None:
    written = load(name).exercise.riff(riff)
    assert written is not None
    assert not written.harmonies
    asked = HarmonyPart("guitar 2", "guitar 1", Distance.parse(interval))
    computed = realise(replace(written, parts=(*(part for part in written.parts if part.name != "guitar 2"), asked)))
    own, other = notes(written, "guitar 2"), notes(computed, "guitar 2")
    assert [(note.at, note.length, note.midi) for note in own] == [(note.at, note.length, note.midi) for note in other]


def test_orders_begin_in_unison_and_open_into_thirds() -> None:
    riff = riff_of("short-orders", "Orders")
    found = intervals(riff, "guitar 1", "guitar 2")
    assert names(found[:7]) == {"P1"}
    assert names(found[7:11]) <= {"m3", "M3"}
    assert sum(note.note.short for note in notes(riff, "guitar 1")) >= 10


def test_flags_move_against_each_other() -> None:
    riff = riff_of("contrary-winds", "Flags")
    one, two = notes(riff, "guitar 1"), notes(riff, "guitar 2")
    moves = [(b.midi - a.midi, d.midi - c.midi) for a, b, c, d in zip(one, one[1:], two, two[1:], strict=False)]
    against = sum(up * down < 0 for up, down in moves)
    assert against >= len(moves) - 3


def test_the_tune_of_the_fifths_passes_to_the_other_guitar() -> None:
    """Up to the join guitar 1 has the tune in the key, after it guitar 2: the exact fifth leaves the key elsewhere."""
    for riff_name, tune, answer in [("First fire", "guitar 1", "guitar 2"), ("Dawn chase", "guitar 1", "guitar 2")]:
        name = "fifth-beacon" if riff_name == "First fire" else "the-long-watch"
        riff = riff_of(name, riff_name)
        assert outside(riff.key, notes(riff, tune)) == 0
        assert outside(riff.key, notes(riff, answer)) > 0
    chase = riff_of("the-long-watch", "Dawn chase")
    first, second = notes(chase, "guitar 1"), notes(chase, "guitar 2")
    tune = [note.midi - first[0].midi for note in first if note.bar == 0]
    assert [note.midi - second[15].midi for note in second if note.bar == 2] == tune


def outside(key: Key, line: Iterable[SoundingNote]) -> int:
    return sum(note.midi % 12 not in key.semitones for note in line)


def test_one_melody_lies_in_two_places_on_the_neck() -> None:
    riff = riff_of("two-roads-home", "Shore and ridge")
    one, two = notes(riff, "guitar 1"), notes(riff, "guitar 2")
    assert [note.midi for note in one] == [note.midi for note in two]
    assert not any((a.note.string, a.note.fret) == (b.note.string, b.note.fret) for a, b in zip(one, two, strict=True))
    assert all(note.note.finger or note.note.fret == 0 for note in (*one, *two))


FIGURES = {
    "gallop": [Fraction(1, 2), Fraction(1, 4), Fraction(1, 4)],
    "reverse gallop": [Fraction(1, 4), Fraction(1, 4), Fraction(1, 2)],
    "triplet gallop": [Fraction(2, 3), Fraction(1, 6), Fraction(1, 6)],
}
"""Each figure's notes as parts of a pulse."""


@pytest.mark.parametrize(
    ("name", "riff", "part", "figure", "least"),
    [
        ("iron-causeway", "Low road", "guitar 1", "gallop", 14),
        ("iron-causeway", "Wet stones", "guitar 1", "gallop", 14),
        ("turning-tide", "Mill wheel", "guitar 1", "reverse gallop", 15),
        ("nine-oars", "The stroke", "guitar 1", "triplet gallop", 14),
        ("heron-steps", "Wading", "guitar 1", "gallop", 9),
        ("harbour-chain", "Links", "guitar 1", "gallop", 12),
        ("bell-glass", "Glass and hooves", "guitar 2", "gallop", 14),
        ("the-long-watch", "First watch", "guitar 2", "gallop", 14),
        ("the-long-watch", "Squall line", "guitar 1", "reverse gallop", 14),
        ("the-long-watch", "Middle watch", "guitar 1", "triplet gallop", 14),
    ],
)
def test_figures_are_played(name: str, riff: str, part: str, figure: str, least: int) -> None:
    found = riff_of(name, riff)
    pulse = found.meters[0].pulse
    line = sorted({note.at for note in notes(found, part)})
    beats = Counter()
    for beat in range(int(found.length / pulse)):
        places = [(at - beat * pulse) / pulse for at in line if beat * pulse <= at < (beat + 1) * pulse]
        beats[tuple(b - a for a, b in pairwise([*places, Fraction(1)]))] += 1
    assert beats[tuple(FIGURES[figure])] >= least


def test_the_iron_causeway_lies_on_one_string() -> None:
    for riff in load("iron-causeway").exercise.riffs:
        assert {note.note.string for note in notes(riff, "guitar 1")} == {6}


def test_the_heron_moves_its_hand_over_nine_frets() -> None:
    frets = [note.note.fret for note in notes(riff_of("heron-steps", "Wading"), "guitar 1") if note.note.fret]
    assert max(frets) - min(frets) >= 8


def test_the_chapel_is_locrian_to_the_bone() -> None:
    """Home is B, its fifth is F and its second C; F# and C# never sound."""
    riff = riff_of("drowned-chapel", "Low water")
    heard = Counter(note.midi % 12 for part in riff.tabs for note in notes(riff, part.name))
    assert str(riff.key) == "B locrian"
    assert set(heard) <= set(riff.key.semitones)
    assert heard[11] == max(heard.values())
    assert heard[5] > 5
    assert heard[0] > 5


def test_the_half_moon_has_both_sixths() -> None:
    riff = riff_of("half-moon", "Light and dark")
    line = {note.midi % 12 for note in notes(riff, "guitar 1")}
    assert {5, 6} <= line
    assert line <= set(Key.parse("A aeolian").semitones) | set(Key.parse("A dorian").semitones)


def test_the_paving_is_odd_and_changes() -> None:
    first, second = (riff_of("broken-paving", name) for name in ("Seven stones", "Missing stone"))
    assert {str(meter) for meter in first.meters} == {"7/8"}
    assert [str(meter) for meter in second.meters] == ["7/8", "7/8", "5/4", "3/4"]


def test_the_keel_is_busy() -> None:
    riff = riff_of("under-the-keel", "Hull")
    assert len(notes(riff, "bass")) > len(notes(riff, "guitar 1"))


def test_the_glass_rings_while_the_hooves_do_not() -> None:
    riff = riff_of("bell-glass", "Glass and hooves")
    glass, hooves = notes(riff, "guitar 1"), notes(riff, "guitar 2")
    assert sum(note.moment.ring for note in glass) >= 0.85 * len(glass)  # all but the last before each change of chord
    assert sum(note.length for note in glass) > 2 * riff.length
    assert all(note.moment.mute for note in hooves)


def test_the_long_watch_is_a_whole_song() -> None:
    etude = load("the-long-watch").exercise
    assert len(etude.riffs) >= 7
    assert len({riff.tempo.target for riff in etude.riffs}) >= 3
    assert len({str(riff.key) for riff in etude.riffs}) == 2
    assert {step.riff for step in etude.form} == {riff.name for riff in etude.riffs}
    for riff in etude.riffs:
        assert set(riff.part_names) == {"guitar 1", "guitar 2", "bass", "drums"}


@pytest.mark.parametrize(("where", "riff"), riffs(), ids=lambda value: value if isinstance(value, str) else "")
class TestEveryRiff:
    """What holds for every riff: it lies on the instruments, under the hand, and does not grate where it leans."""

    def test_guitars_lie_above_the_bass(self, where: str, riff: Riff) -> None:
        lowest = {"guitar": 33, "bass": 26}
        highest = {"guitar": 88, "bass": 55}
        for tab in riff.tabs:
            kind = tab.name.split()[0]
            for note in notes(riff, tab.name):
                assert lowest[kind] <= note.midi <= highest[kind], f"{where} {tab.name} {note.midi}"

    def test_quick_notes_lie_under_the_hand(self, where: str, riff: Riff) -> None:
        second = 60 / riff.tempo.target / riff.meters[0].pulse
        for tab in riff.tabs:
            frets: dict[Fraction, list[int]] = {}
            for note in notes(riff, tab.name):
                if note.note.fret and note.note.attack is not Attack.TAP and note.note.touch.name != "HARMONIC":
                    frets.setdefault(note.at, []).append(note.note.fret)
            places = sorted(frets)
            for at in places:
                assert max(frets[at]) - min(frets[at]) < SPAN, f"{where} {tab.name}: chord {frets[at]}"
            for before, after in pairwise(places):
                if (after - before) * second < QUICK:
                    both = [*frets[before], *frets[after]]
                    slid = any(n.at == after and n.note.attack.value in ("/", "\\") for n in notes(riff, tab.name))
                    assert slid or max(both) - min(both) <= SPAN, f"{where} {tab.name}: {frets[before]} {frets[after]}"

    def test_hammers_and_pulls_come_from_a_note_that_sounds(self, where: str, riff: Riff) -> None:
        for tab in riff.tabs:
            last: dict[int, SoundingNote] = {}
            for note in notes(riff, tab.name):
                if note.note.attack in (Attack.HAMMER, Attack.PULL):
                    before = last.get(note.note.string)
                    assert before is not None and before.end == note.at, f"{where} {tab.name} bar {note.bar + 1}"
                    assert abs(before.note.fret - note.note.fret) <= SPAN
                last[note.note.string] = note

    def test_the_guitars_do_not_grate_together(self, where: str, riff: Riff) -> None:
        """Single notes that start together are never a semitone, major seventh or minor ninth apart."""
        if len([tab for tab in riff.tabs if tab.name.startswith("guitar")]) == 2:
            rubbing = [i for i in intervals(riff, "guitar 1", "guitar 2") if abs(i.semitones) % 12 in (1, 11)]
            assert len(rubbing) <= (1 if where.startswith("bell-glass") else 0), f"{where} {names(rubbing)}"


MEANT = {
    "drowned-chapel/Low water": Counter({6: 8}),  # locrian's own fifth, on both guitars
    "bell-glass/Glass and hooves": Counter({11: 1}),  # the seventh of the chord that is named there
}
"""Riffs that lean on such an interval on purpose, and how often."""


WITH_BASS = [(where, riff) for where, riff in riffs() if riff.part("bass")]


@pytest.mark.parametrize(("where", "riff"), WITH_BASS, ids=[where for where, _ in WITH_BASS])
def test_nothing_grates_against_the_bass_on_a_pulse(where: str, riff: Riff) -> None:
    """Semitones, tritones, major sevenths and minor ninths against the bass on a pulse are chosen, not met."""
    bass = notes(riff, "bass")
    pulses = {
        start + pulse * meter.pulse
        for start, meter in zip(riff.bar_starts, riff.meters, strict=False)
        for pulse in range(int(-(-meter.length // meter.pulse)))
    }
    found = []
    for tab in riff.tabs:
        if tab.name == "bass":
            continue
        for note in notes(riff, tab.name):
            under = next((low for low in bass if low.at <= note.at < low.end), None)
            if note.at in pulses and under is not None:
                assert note.midi >= under.midi, f"{where}: {tab.name} below the bass in bar {note.bar + 1}"
                found += [(note.midi - under.midi) % 12] if (note.midi - under.midi) % 12 in (1, 6, 11) else []
    assert Counter(found) == MEANT.get(where, Counter()), where
