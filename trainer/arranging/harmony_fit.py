"""Harmony in reverse: from two written guitars to the harmony block that plays the second one.

Every distance is tried, inside the key and exact, parallel and (inside the key) contrary; the one that needs the fewest
exceptions wins, then the plainest. A note that it does not answer as written gets an exception of its own. The block is
computed again and held against the tab: it fits where rhythm, pitch and articulation are the tab's; strings and strokes
may be others, which is counted.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from trainer.arranging.answers import Answers, phrase_starts
from trainer.arranging.comparison import compare
from trainer.arranging.harmony_line import HarmonyMoment, harmony_line, pedal_places
from trainer.arranging.place_words import bars_words, join_words, number_words, place_words
from trainer.arranging.realise import realise
from trainer.music.interval import QUALITY_NAMES, Distance
from trainer.music.note import Moment, Note, Touch
from trainer.music.part import HarmonyException, HarmonyPart, TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi

WIDEST = 9
"""Steps of the widest distance tried: a tenth."""

_Place = tuple[int, Fraction]
"""A bar (from 0) and the offset in it."""
_Sound = tuple[tuple[int, int, int], ...]
"""For each note of a moment, low to high: its key, and by how much a bend raises it and lets it down to; dead notes are
left out."""


@dataclass(frozen=True, slots=True)
class HarmonyFit:
    """A harmony block that plays what a tab says."""

    part: HarmonyPart
    notes: int
    """Notes of the tab."""
    elsewhere: int
    """Beats at which the block plays on other strings or frets than the tab."""
    contrary: bool


@dataclass(frozen=True, slots=True)
class HarmonyMisfit:
    """Why no harmony block plays what a tab says."""

    why: str
    """rhythm, pitch, articulation or neck."""
    bars: tuple[int, ...]
    """Where, from 1."""


def fit_harmony(line: TabPart, written: TabPart, riff: Riff) -> HarmonyFit | HarmonyMisfit:
    """The block by which one part of a riff would follow another, exactly as it is written."""
    wanted = _sounds(written)
    off_beat = _other_rhythm(line, written)
    if off_beat or not wanted:
        return HarmonyMisfit("rhythm", off_beat)
    kinds = list(_distances())
    own = {distance: _answered(line, riff, distance, everywhere=True) for distance in kinds}
    best: tuple[int, int, HarmonyPart] | None = None
    lost: tuple[int, ...] = ()
    for rank, (distance, contrary) in enumerate(_ways(kinds)):
        found = _answered(line, riff, distance, contrary=contrary)
        exceptions = []
        for place, sound in wanted.items():
            if found.get(place) == sound:
                continue
            other = next((each for each in kinds if own[each].get(place) == sound), None)
            if other is None:
                lost = (*lost, place[0] + 1)
                break
            exceptions.append(HarmonyException(place[0] + 1, place[1], other))
        else:
            if best is None or len(exceptions) < best[0]:
                part = HarmonyPart(
                    written.name, line.name, distance, tuple(exceptions), None, written.instrument, contrary
                )
                best = (len(exceptions), rank, part)
    if best is None:
        return HarmonyMisfit("pitch", tuple(sorted(set(lost))))
    return _checked(best[2], written, riff)


def _distances() -> Iterator[Distance]:
    """Every distance there is a name for: inside the key first, thirds and sixths before the others."""
    order = (2, 5, 3, 4, 7, 9, 1, 6, 8, 0)
    for quality in ("", *QUALITY_NAMES):
        for steps in order:
            for above in (True, False):
                try:
                    yield Distance.parse(str(Distance(steps, quality, above)))
                except ValueError:
                    continue


def _ways(kinds: list[Distance]) -> Iterator[tuple[Distance, bool]]:
    """Each distance in parallel motion, then those inside the key in contrary motion."""
    yield from ((distance, False) for distance in kinds)
    yield from ((distance, True) for distance in kinds if distance.exact is None)


def _answered(
    line: TabPart, riff: Riff, distance: Distance, *, contrary: bool = False, everywhere: bool = False
) -> Mapping[_Place, _Sound]:
    """What a line's answer at a distance sounds at each onset; everywhere: as an exception would, pedal notes too."""
    part = HarmonyPart("", line.name, distance, contrary=contrary)
    mirrors = phrase_starts(line, riff.key) if contrary else {}
    answers = Answers(part, riff.key, riff.bar_starts, mirrors=mirrors)
    if everywhere:
        places = [(bar, moment.offset) for bar, moments in enumerate(line.bars) for moment in moments]
        answers.exceptions = dict.fromkeys(places, distance)
    else:
        answers.pedals = pedal_places(line)
    bars = harmony_line(line, riff.key, answers.choose)
    return {
        (number, moment.moment.offset): _answer_sound(moment)
        for number, bar in enumerate(bars)
        for moment in bar
        if moment.notes
    }


def _answer_sound(moment: HarmonyMoment) -> _Sound:
    return tuple(
        sorted((note.pitch.midi, note.bend or 0, note.release or 0) for note in moment.notes if note.pitch is not None)
    )


def _sounds(part: TabPart) -> dict[_Place, _Sound]:
    sound = partial(_note_sound, part)
    return {
        (number, moment.offset): tuple(sorted(sound(note) for note in moment.notes if note.touch is not Touch.DEAD))
        for number, bar in enumerate(part.bars)
        for moment in bar
        if moment.notes
    }


def _note_sound(part: TabPart, note: Note) -> tuple[int, int, int]:
    bend, release = (0 if goal is None else goal - note.fret for goal in (note.bend, note.release))
    return (note_midi(part.instrument, note), bend, release)


def _other_rhythm(line: TabPart, written: TabPart) -> tuple[int, ...]:
    """Bars (from 1) in which the two do not start and stop together, or not with as many notes."""

    def rhythm(bar: tuple[Moment, ...]) -> list[tuple[Fraction, bool, int]]:
        return [(moment.offset, moment.rest, len(moment.notes)) for moment in bar if moment.notes or moment.rest]

    pairs = zip(line.bars, written.bars, strict=False)
    return tuple(number for number, (one, other) in enumerate(pairs, 1) if rhythm(one) != rhythm(other))


def _checked(part: HarmonyPart, written: TabPart, riff: Riff) -> HarmonyFit | HarmonyMisfit:
    """The block as it is computed, with the fret to stay near by which most of it lies where the tab has it."""
    frets = [note.fret for bar in written.bars for moment in bar for note in moment.notes if note.fret]
    middle = round(sum(frets) / len(frets)) if frets else None
    fits: list[HarmonyFit] = []
    other: tuple[int, ...] = ()
    for near in dict.fromkeys((None, middle)):
        asked = replace(part, near=near)
        parts = tuple(asked if each.name == written.name else each for each in riff.parts)
        try:
            played = realise(replace(riff, parts=parts)).part(written.name)
        except ProblemsError:
            continue
        found = compare(written, riff, played, riff) if isinstance(played, TabPart) else None
        if found is None:
            continue
        beats = [(pair.one or 0, beat.kinds) for pair in found.pairs for beat in pair.beats]
        graver = tuple(dict.fromkeys(bar for bar, kinds in beats if not {"place", "strokes"}.issuperset(kinds)))
        if graver or found.semitones:
            other = graver
            continue
        elsewhere = sum("place" in kinds for _, kinds in beats)
        notes = sum(len(moment.notes) for bar in written.bars for moment in bar)
        fits.append(HarmonyFit(asked, notes, elsewhere, part.contrary))
    if not fits:
        return HarmonyMisfit("articulation" if other else "neck", other)
    return min(fits, key=lambda fit: fit.elsewhere)


_MISFITS = {
    "rhythm": "{part} does not follow {line} note for note: the rhythm differs in {bars}.",
    "pitch": "no distance there is a name for leads from {line} to {part} in {bars}.",
    "articulation": "the notes are a harmony, but {part} articulates them otherwise than {line} in {bars}.",
    "neck": "the notes are a harmony, but it cannot be placed on the neck by itself.",
}


def misfit_sentence(found: HarmonyMisfit, line: str, part: str) -> str:
    """Why there is no block, in a sentence."""
    bars = bars_words(found.bars) if found.bars else "every bar"
    text = _MISFITS[found.why].format(line=line, part=part, bars=bars)
    return text[0].upper() + text[1:]


def fit_sentences(found: HarmonyFit, riff: Riff) -> tuple[str, ...]:
    """What the block says, in words."""
    part = found.part
    how = f"moves against {part.follows}, from the" if found.contrary else f"follows {part.follows} at the"
    told = [f"{part.name} {how} {part.distance}{_but(part)}."]
    told += [
        f"In {place_words(one.bar, one.offset, riff.meters[one.bar - 1])} it is the {one.distance}."
        for one in part.exceptions
    ]
    if found.elsewhere:
        beats = f"{number_words(found.elsewhere)} beat{'s' if found.elsewhere > 1 else ''}"
        told.append(f"On {beats} the block chooses other strings than the tab.")
    return tuple(told)


def _but(part: HarmonyPart) -> str:
    count = len(part.exceptions)
    bars = sorted({one.bar for one in part.exceptions})
    if not count:
        return " throughout"
    where = f"bar{'s' if len(bars) > 1 else ''} {join_words([str(bar) for bar in bars])}"
    return f", but for {number_words(count)} note{'s' if count > 1 else ''} in {where}"
