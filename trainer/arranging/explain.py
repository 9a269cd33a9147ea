"""What a riff is made of: facts, computed part by part and pair by pair. `sentences` tells them in words."""

from collections import Counter
from dataclasses import dataclass
from itertools import combinations

from trainer.arranging.compass import Compass, compass
from trainer.arranging.hand import is_bass
from trainer.arranging.implied_chords import ImpliedChord, implied_chords
from trainer.arranging.interval_line import Shared, interval_line
from trainer.arranging.mixed_modes import MixedDegree, mixed_degrees
from trainer.arranging.mode_finding import Deciding, Heard, ModeFit, deciding, find_modes
from trainer.arranging.motion import Clash, IntervalSummary, Motion, crossed, motions, part_clashes, summarise
from trainer.arranging.phrases import beats_long, low_notes, phrases, pitched
from trainer.arranging.rhythm_cells import Accents, Lock, Rhythm, accents, lock, rhythm
from trainer.arranging.same_pitches import SamePitches, same_pitches
from trainer.music.key import Key
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote


@dataclass(frozen=True, slots=True)
class ModeFacts:
    """Which modes on the declared tonic some notes fit, and which keys they would suggest by themselves."""

    first_bar: int
    """From 1."""
    last_bar: int
    fits: tuple[ModeFit, ...]
    """On the declared tonic, the best first."""
    deciding: tuple[Deciding, ...]
    """What tells the best fit from each of the others."""
    undeclared: tuple[ModeFit, ...]
    """Among all keys, as if none were declared, the best first."""


@dataclass(frozen=True, slots=True)
class PartFacts:
    """One part."""

    name: str
    compass: Compass | None
    """None without pitches."""
    rhythm: Rhythm
    accents: Accents
    modes: ModeFacts | None
    phrases: tuple[ModeFacts, ...]
    mixed: tuple[MixedDegree, ...]


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
    chords: tuple[ImpliedChord, ...]
    parts: tuple[PartFacts, ...]
    """The parts on strings, in the order of the file."""
    pairs: tuple[PairFacts, ...]
    """Every two of them."""


def explain(riff: Riff) -> Explanation:
    """The facts of a riff, whose harmonies have been computed; drums have no pitches and are left out."""
    tabs = riff.tabs
    low = low_notes(tabs)
    bass = _heard(pitched(low, riff), riff) if low else ()
    everything = sorted((note for part in tabs for note in pitched(part, riff)), key=lambda note: note.at)
    return Explanation(
        riff.name,
        riff.key,
        _modes(everything, riff, bass),
        mixed_degrees(tabs, riff.key),
        implied_chords(tabs, riff),
        tuple(part_facts(part, riff) for part in tabs),
        tuple(pair_facts(one, other, riff) for one, other in combinations(tabs, 2)),
    )


def part_facts(part: TabPart, riff: Riff) -> PartFacts:
    """The facts of one part."""
    lines = phrases(part, riff)
    return PartFacts(
        part.name,
        compass(part, riff.key),
        rhythm(part, riff),
        accents(part, riff),
        _modes(pitched(part, riff), riff),
        tuple(facts for phrase in lines if (facts := _modes(phrase.notes, riff)) is not None) if len(lines) > 1 else (),
        mixed_degrees((part,), riff.key),
    )


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


def _modes(
    notes: tuple[SoundingNote, ...] | list[SoundingNote], riff: Riff, bass: tuple[Heard, ...] = ()
) -> ModeFacts | None:
    if not notes:
        return None
    heard = _heard(tuple(notes), riff)
    fits = find_modes(heard, tonic=riff.key.tonic, declared=plain_key(riff.key), bass=bass)
    undeclared = find_modes(heard, declared=plain_key(riff.key), bass=bass, count=3)
    bars = [note.bar + 1 for note in notes]
    return ModeFacts(min(bars), max(bars), fits, deciding(fits, heard), undeclared)


def _heard(notes: tuple[SoundingNote, ...], riff: Riff) -> tuple[Heard, ...]:
    """Notes as evidence: a beat counts 1, and no note more than two or less than a quarter."""
    return tuple(Heard(note.midi, min(2.0, max(0.25, beats_long(note, riff)))) for note in notes)
