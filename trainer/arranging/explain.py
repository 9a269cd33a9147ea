"""What a riff is made of: facts, computed part by part and pair by pair. `sentences` tells them in words."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import log

from trainer.arranging.compass import Compass, compass
from trainer.arranging.figures import FigureCatalogue, figures
from trainer.arranging.hand import is_bass
from trainer.arranging.interval_line import Shared, interval_line
from trainer.arranging.mixed_modes import MixedDegree, mixed_degrees
from trainer.arranging.mode_finding import Deciding, ModeFit, WeighedNote, deciding, find_modes
from trainer.arranging.motion import Clash, IntervalSummary, Motion, crossed, motions, part_clashes, summarise
from trainer.arranging.phrases import beats_long, low_notes, phrases, pitched
from trainer.arranging.played_chords import PlayedChord, played_chords, unknown_chord_names
from trainer.arranging.rhythm_cells import (
    Accents,
    Lock,
    Rhythm,
    accents,
    kick_lock,
    lock,
    rhythm,
    rhythm_letters,
)
from trainer.arranging.roles import RoleMap, roles
from trainer.arranging.same_pitches import SamePitches, same_pitches
from trainer.arranging.tension import LeaningNote, dark_degrees, leaning_notes
from trainer.music.key import MODES, Key
from trainer.music.part import TabPart
from trainer.music.pitch import Name
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote

CHROMATIC_NOTES = 10
"""So many of the twelve pitch classes make a line chromatic where no key holds `CHROMATIC_INSIDE` of it. House rule."""
CHROMATIC_INSIDE = 0.85
FEW_NOTES = 3
"""Fewer pitch classes tell no mode. House rule."""
DOUBT = log(8.0)
"""By so much another tonic must fit better before the declared one is doubted. House rule."""


@dataclass(frozen=True, slots=True)
class ModeFacts:
    """Which modes on the declared tonic some notes fit, and which keys they would suggest by themselves."""

    kind: str
    """"mode"; "chromatic", where no mode is the right answer; "few", where there are too few notes to tell one."""
    first_bar: int
    """From 1."""
    last_bar: int
    fits: tuple[ModeFit, ...]
    """On the declared tonic, the best first."""
    deciding: tuple[Deciding, ...]
    """What tells the best fit from each of the others."""
    undeclared: tuple[ModeFit, ...]
    """Among all keys, as if none were declared, the best first."""
    other_home: Key | None
    """A key on another tonic that the notes point to much more than to the declared one."""

    @property
    def best(self) -> Key:
        """The key that fits best on the declared tonic."""
        return self.fits[0].key

    @property
    def ties(self) -> tuple[Key, ...]:
        """Keys that nothing heard tells from the best."""
        return tuple(one.rival for one in self.deciding if one.tie)


@dataclass(frozen=True, slots=True)
class PartFacts:
    """One part."""

    name: str
    bass: bool
    compass: Compass | None
    """None without pitches."""
    rhythm: Rhythm
    letters: tuple[str, ...]
    """For each bar its rhythm in letters (`rhythm_cells.LETTER_WORDS`)."""
    accents: Accents
    kick: Lock | None
    """How its notes and the kick's fall together; None without drums."""
    modes: ModeFacts | None
    phrases: tuple[ModeFacts, ...]
    mixed: tuple[MixedDegree, ...]
    figures: FigureCatalogue
    leaning: tuple[LeaningNote, ...]
    """Its long and accented notes in the bars in which it has the tune."""


@dataclass(frozen=True, slots=True)
class PairFacts:
    """Two parts against each other."""

    one: str
    other: str
    with_bass: bool
    """One of them is a bass, and the other is not."""
    line: tuple[Shared, ...]
    """The interval at every shared onset."""
    summary: IntervalSummary | None
    motion: tuple[tuple[Motion, int], ...]
    """How often they move in each way, the commonest first."""
    crossings: tuple[Shared, ...]
    clashes: tuple[Clash, ...]
    lock: Lock
    same: SamePitches | None


@dataclass(frozen=True, slots=True)
class Explanation:
    """A riff."""

    riff: str
    key: Key
    """As it is declared."""
    modes: ModeFacts | None
    """All parts together; None without pitches."""
    mixed: tuple[MixedDegree, ...]
    chords: tuple[PlayedChord, ...]
    unknown_chords: tuple[tuple[int, Fraction, str], ...]
    """Written chord names that are not understood: bar (from 1), offset, name."""
    roles: RoleMap
    dark: tuple[tuple[Name, str], ...]
    """Notes that make it sound dark, with their degree."""
    parts: tuple[PartFacts, ...]
    """The parts on strings, in the order of the file."""
    pairs: tuple[PairFacts, ...]
    """Every two of them."""


def explain(riff: Riff) -> Explanation:
    """The facts of a riff, whose harmonies have been computed; drums have no pitches and are left out."""
    tabs = riff.tabs
    low = low_notes(tabs)
    bass = _weighed(pitched(low, riff), riff) if low else ()
    everything = sorted((note for part in tabs for note in pitched(part, riff)), key=lambda note: note.at)
    modes = _modes(everything, riff, bass)
    who = roles(riff)
    return Explanation(
        riff.name,
        riff.key,
        modes,
        _mixed(tabs, riff.key, modes),
        played_chords(riff),
        unknown_chord_names(riff),
        who,
        dark_degrees(everything, riff.key),
        tuple(part_facts(part, riff, who) for part in tabs),
        tuple(pair_facts(one, other, riff) for one, other in combinations(tabs, 2)),
    )


def part_facts(part: TabPart, riff: Riff, who: RoleMap) -> PartFacts:
    """The facts of one part."""
    lines = phrases(part, riff)
    modes = _modes(pitched(part, riff), riff)
    tune = {bar for bar, role in enumerate(who.of(part.name), 1) if role.kind == "tune"}
    return PartFacts(
        part.name,
        is_bass(part.instrument),
        compass(part, riff.key),
        rhythm(part, riff),
        rhythm_letters(part, riff),
        accents(part, riff),
        kick_lock(part, riff.drums[0]) if riff.drums else None,
        modes,
        tuple(facts for phrase in lines if (facts := _modes(phrase.notes, riff)) is not None) if len(lines) > 1 else (),
        _mixed((part,), riff.key, modes),
        figures(part, riff),
        tuple(note for note in leaning_notes(part, riff) if note.bar in tune) if tune else (),
    )


def _mixed(parts: Sequence[TabPart], key: Key, modes: ModeFacts | None) -> tuple[MixedDegree, ...]:
    """Degrees in two forms; none where another mode than the declared one holds every note, or no mode holds."""
    if modes is None or modes.kind != "mode":
        return ()
    declared = next((fit for fit in modes.fits if fit.key == plain_key(key)), None)
    better = not modes.fits[0].outside and declared is not None and declared.outside
    return () if better else mixed_degrees(parts, key)


def pair_facts(one: TabPart, other: TabPart, riff: Riff) -> PairFacts:
    """The facts of two parts against each other."""
    line = interval_line(one, other, riff)
    return PairFacts(
        one.name,
        other.name,
        is_bass(one.instrument) != is_bass(other.instrument),
        line,
        summarise(line),
        tuple(Counter(motions(line)).most_common()),
        crossed(line),
        part_clashes(one, other, riff),
        lock(one, other),
        same_pitches(one, other),
    )


def plain_key(key: Key) -> Key:
    """Major and minor by their modes' names."""
    return Key(key.tonic, {"major": "ionian", "minor": "aeolian"}.get(key.mode, key.mode))


def _modes(notes: Sequence[SoundingNote], riff: Riff, bass: tuple[WeighedNote, ...] = ()) -> ModeFacts | None:
    if not notes:
        return None
    weighed = _weighed(notes, riff)
    declared = plain_key(riff.key)
    fits = find_modes(weighed, tonic=riff.key.tonic, declared=declared, bass=bass, count=len(MODES))
    undeclared = find_modes(weighed, declared=declared, bass=bass, count=3)
    bars = [note.bar + 1 for note in notes]
    other = undeclared[0]
    doubt = other.key.tonic != riff.key.tonic and other.score - fits[0].score > DOUBT
    tones = {note.midi % 12 for note in weighed}
    kind = "few" if len(tones) < FEW_NOTES else "mode"
    if len(tones) >= CHROMATIC_NOTES and max(fits[0].inside, other.inside) < CHROMATIC_INSIDE:
        kind = "chromatic"
    return ModeFacts(
        kind,
        min(bars),
        max(bars),
        fits,
        deciding(fits, weighed),
        undeclared,
        other.key if doubt and kind == "mode" else None,
    )


def _weighed(notes: Sequence[SoundingNote], riff: Riff) -> tuple[WeighedNote, ...]:
    """Notes as evidence: a beat counts 1, no note more than two or less than a quarter; bends where they arrive."""
    return tuple(
        WeighedNote(midi, min(2.0, max(0.25, beats_long(note, riff))) / len(heard))
        for note in notes
        for heard in (_heard_pitches(note),)
        for midi in heard
    )


def _heard_pitches(note: SoundingNote) -> tuple[int, ...]:
    """The pitches at which a note is heard: where a bend arrives, and where it is let down to."""
    if note.note.bend is None:
        return (note.midi,)
    reached = note.midi + note.note.bend - note.note.fret
    return (reached,) if note.note.release is None else (reached, note.midi + note.note.release - note.note.fret)
