"""A part with its fingering: what is written is kept, what is not is found."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.arranging.chain import Chain, chain, part_steps, played
from trainer.arranging.fingering import Fingering, NoGripError, best_fingering, different_fingerings
from trainer.arranging.grip import NO_LIMITS, THUMB, HeldPlace, Limits
from trainer.arranging.hand import STANDARD_HAND, Hand
from trainer.arranging.move_costs import Tie
from trainer.arranging.riff_clock import riff_clock
from trainer.music.instrument import HARMONICS
from trainer.music.note import Moment, Note, Touch
from trainer.music.part import TabPart
from trainer.music.pitch import Pitch
from trainer.music.problem import Problem, ProblemsError
from trainer.music.riff import Riff

FINGER_MARKS = ("", "1", "2", "3", "4", "T")
"""What is written for each finger."""


@dataclass(frozen=True, slots=True)
class HandTrouble:
    """Something the hand cannot do as it is asked."""

    bar: int
    """From 1."""
    offset: Fraction
    """Whole notes from the bar's start."""
    what: str
    """A sentence without its full stop."""


@dataclass(frozen=True, slots=True)
class Fingered:
    """A part as one way plays it."""

    part: TabPart
    """With strings, frets and fingers."""
    fingering: Fingering
    chain: Chain
    moments: tuple[tuple[int, Fraction], ...]
    """For each event its bar (from 0) and its offset in it."""
    troubles: tuple[HandTrouble, ...] = ()
    """Impossible stretches, broken ties and ringing notes that must be let go: shown, not hidden."""

    @property
    def cost(self) -> float:
        """The way's cost: it compares ways of one part, nothing else."""
        return self.fingering.cost


def finger(
    part: TabPart,
    riff: Riff,
    *,
    bpm: Fraction | None = None,
    hand: Hand = STANDARD_HAND,
    limits: Limits = NO_LIMITS,
    anew: bool = False,
    file: str = "",
) -> Fingered:
    """The best way to play a part at a tempo.

    Args:
        part: the part.
        riff: the riff it belongs to.
        bpm: the tempo; the riff's target where it is None. Shifts cost more the faster it is.
        hand: the hand's fingers, costs and reaches.
        limits: where on the neck to look; they bind what is not written.
        anew: find other strings and frets for the same pitches, and other fingers, instead of keeping what is written.
        file: the file's name, for problems.

    Raises:
        ProblemsError: a note lies nowhere on the neck within the limits.
    """
    return fingerings(part, riff, 1, bpm=bpm, hand=hand, limits=limits, anew=anew, file=file)[0]


def fingerings(
    part: TabPart,
    riff: Riff,
    count: int,
    *,
    bpm: Fraction | None = None,
    hand: Hand = STANDARD_HAND,
    limits: Limits = NO_LIMITS,
    anew: bool = False,
    file: str = "",
) -> tuple[Fingered, ...]:
    """The best way and up to `count` - 1 really different ones (`different_fingerings`); arguments as `finger`."""
    steps = part_steps(part, riff, riff_clock(riff, bpm), keep_places=not anew, keep_fingers=not anew)
    places = [(number, moment.offset) for number, bar in enumerate(part.bars) for moment in played(bar)]
    links = chain(steps, part.instrument, hand, limits)
    try:
        if count > 1:
            ways = different_fingerings(links.events, part.instrument, count, hand, limits)
        else:
            ways = (best_fingering(links.events, part.instrument, hand, limits),)
    except NoGripError as error:
        bar, _ = places[links.steps[error.event]]
        where = f"{part.name} of {riff.name!r}, bar {bar + 1}"
        pitches = [riff.key.spell(note.midi) for note in links.events[error.event].wanted if note.midi is not None]
        raise ProblemsError([_no_grip(where, pitches, limits, file)]) from None
    moments = tuple(places[step] for step in links.steps)
    return tuple(
        Fingered(with_fingering(part, links, way), way, links, moments, _troubles(links, way, moments)) for way in ways
    )


def with_fingering(part: TabPart, links: Chain, way: Fingering) -> TabPart:
    """The part with a way's strings, frets and fingers."""
    grips = dict(zip(links.steps, way.grips, strict=True))
    step = -1
    bars = []
    for bar in part.bars:
        moments = []
        for moment in bar:
            step += 1 if moment.notes or moment.rest else 0
            held = grips[step].notes if moment.notes else ()
            moments.append(_moment(part, moment, held))
        bars.append(tuple(moments))
    return replace(part, bars=tuple(bars))


def _moment(part: TabPart, moment: Moment, held: Sequence[HeldPlace]) -> Moment:
    notes = [_placed(part, note, place) for note, place in zip(moment.notes, held, strict=False)]
    return replace(moment, notes=tuple(sorted(notes, key=lambda note: note.string)))


def _placed(part: TabPart, note: Note, held: HeldPlace) -> Note:
    string, fret, finger_number = held
    touch = note.touch
    if touch is Touch.HARMONIC and (string, fret) != (note.string, note.fret):
        midi = part.instrument.harmonic_midi(note.string, note.fret)
        sounds = fret in HARMONICS and part.instrument.harmonic_midi(string, fret) == midi
        touch = Touch.HARMONIC if sounds else Touch.FRETTED
    rise = fret - note.fret
    return replace(
        note,
        string=string,
        fret=fret,
        touch=touch,
        bend=None if note.bend is None else note.bend + rise,
        release=None if note.release is None else note.release + rise,
        finger=FINGER_MARKS[finger_number],
    )


def _no_grip(where: str, pitches: Sequence[Pitch], limits: Limits, file: str) -> Problem:
    asked = []
    if limits.strings:
        asked.append(f"on strings {limits.strings[0]} to {limits.strings[1]}")
    if limits.frets:
        asked.append(f"between frets {limits.frets[0]} and {limits.frets[1]}")
    what = f"{where}: {' '.join(map(str, pitches))} cannot be played {' '.join(asked) or 'on this neck'}"
    return Problem(file, 0, 0, what, "", "Allow more of the neck" if asked else "Move the riff, or change the tuning")


def _troubles(links: Chain, way: Fingering, moments: Sequence[tuple[int, Fraction]]) -> tuple[HandTrouble, ...]:
    found = []
    before = None
    for number, (event, grip, (bar, offset)) in enumerate(zip(links.events, way.grips, moments, strict=True)):
        told = []
        if grip.crossed:
            told.append("the fingers that are written cannot stand there together")
        elif grip.beyond_reach:
            frets = [fret for _, fret, finger_number in grip.notes if finger_number not in (0, THUMB)]
            told.append(f"no hand stretches from fret {min(frets)} to fret {max(frets)} here")
        if number in links.let_go:
            told.append("a note that should ring on must be let go")
        for note, wanted, (tie, source) in zip(grip.notes, event.wanted, event.ties, strict=True):
            if (wanted.bend or wanted.vibrato) and note[1] == 0:
                told.append("an open string cannot be bent or shaken")
            if before is not None and _is_broken(tie, before.notes[source], note, before.position != grip.position):
                told.append(_BROKEN[tie])
        found += [HandTrouble(bar + 1, offset, what) for what in dict.fromkeys(told)]
        before = grip
    return tuple(found)


_BROKEN = {
    Tie.HELD: "a note that should ring on must be let go",
    Tie.HAMMER: "a hammer-on or pull-off reaches farther than the hand",
    Tie.SLIDE: "a slide needs one finger on one string",
    Tie.STRING: "a tapped note changes its string",
}


def _is_broken(tie: Tie, old: HeldPlace, new: HeldPlace, moved: bool) -> bool:
    if tie is Tie.NONE:
        return False
    if tie is Tie.HELD:
        return old != new
    if tie is Tie.HAMMER:
        return old[0] != new[0] or (old[2] > 0 and new[2] > 0 and (old[2] == new[2] or moved))
    if tie is Tie.SLIDE:
        return old[0] != new[0] or old[2] != new[2] or new[2] == 0
    return old[0] != new[0]
