"""From what is struck, count by count, to the chain of events that a hand must hold.

Strings may not be known yet, so notes belong to *voices*: the strings of the written line. A note under "let ring" is
held until its voice is struck again, a rest comes or the marks end, as `trainer.music.sounding` has it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from trainer.arranging.fingering import HandMoment
from trainer.arranging.grip import NO_LIMITS, Limits, WantedNote, grips
from trainer.arranging.hand import STANDARD_HAND, Hand
from trainer.arranging.move_costs import Tie
from trainer.arranging.riff_clock import RiffClock
from trainer.music.instrument import Instrument
from trainer.music.note import Attack, Moment, Note, Touch
from trainer.music.part import TabPart
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi

TIES = {
    Attack.HAMMER: Tie.HAMMER,
    Attack.PULL: Tie.HAMMER,
    Attack.SLIDE_UP: Tie.SLIDE,
    Attack.SLIDE_DOWN: Tie.SLIDE,
    Attack.TAP: Tie.STRING,
}
"""How each attack hangs on the note before it on its string."""
FINGER_NUMBERS = {"": 0, "1": 1, "2": 2, "3": 3, "4": 4, "T": 5}
"""The marks of the finger row."""


@dataclass(frozen=True, slots=True)
class StruckNote:
    """One note struck by a voice."""

    voice: int
    wanted: WantedNote
    tie: Tie = Tie.NONE
    """Taken up only where the voice sounded in the event before."""


@dataclass(frozen=True, slots=True)
class StruckMoment:
    """What one moment strikes; nothing for a rest."""

    struck: tuple[StruckNote, ...]
    seconds: float = 0.0
    """Its time from the start."""
    ring: bool = False


@dataclass(frozen=True, slots=True)
class Chain:
    """Events and, for each, which of its notes are struck."""

    events: tuple[HandMoment, ...]
    steps: tuple[int, ...]
    """For each event the index of its step."""
    let_go: tuple[int, ...] = ()
    """Events at which a note that should ring on cannot be held."""


def chain(
    steps: Sequence[StruckMoment], neck: Instrument, hand: Hand = STANDARD_HAND, limits: Limits = NO_LIMITS
) -> Chain:
    """The events of some steps. In each event the notes struck come first, as in the step, then those held."""
    events: list[HandMoment] = []
    places: list[int] = []
    let_go: list[int] = []
    sounding: dict[int, tuple[int, WantedNote, bool]] = {}
    before = 0.0
    for number, step in enumerate(steps):
        if not step.struck:
            sounding = {}
            continue
        struck = {note.voice for note in step.struck}
        held = []
        if step.ring:
            held = [(v, index, wanted) for v, (index, wanted, ring) in sounding.items() if ring and v not in struck]
        wanted = [note.wanted for note in step.struck]
        ties = [
            (note.tie, sounding[note.voice][0])
            if note.tie is not Tie.NONE and note.voice in sounding
            else (Tie.NONE, 0)
            for note in step.struck
        ]
        while held and not _can_hold((*wanted, *(note for *_, note in held)), neck, hand, limits):
            held.pop(0)
            let_go.append(len(events))
        ties += [(Tie.HELD, index) for _, index, _ in held]
        event = HandMoment(
            (*wanted, *(note for *_, note in held)), tuple(ties), step.seconds - before if events else 1.0
        )
        before = step.seconds
        sounding = {note.voice: (index, note.wanted, step.ring) for index, note in enumerate(step.struck)}
        for index, (voice, _, note) in enumerate(held, len(wanted)):
            sounding[voice] = (index, note, True)
        events.append(event)
        places.append(number)
    return Chain(tuple(events), tuple(places), tuple(dict.fromkeys(let_go)))


def _can_hold(wanted: tuple[WantedNote, ...], neck: Instrument, hand: Hand, limits: Limits) -> bool:
    return any(not grip.beyond_reach for grip in grips(wanted, neck, hand, limits))


def part_steps(
    part: TabPart, riff: Riff, clock: RiffClock, *, keep_places: bool = True, keep_fingers: bool = True
) -> tuple[StruckMoment, ...]:
    """The steps of a written part, one for each of its moments with notes or a rest.

    Args:
        part: the part.
        riff: the riff it belongs to.
        clock: the riff's clock at the tempo asked for.
        keep_places: strings and frets as written; else only the pitches count.
        keep_fingers: fingers as written, where they are.
    """
    steps = []
    pedals = iter(_pedals([moment for bar in part.bars for moment in played(bar)], part.instrument))
    for bar, begin in zip(part.bars, riff.bar_starts, strict=False):
        start = float(begin)
        for moment in played(bar):
            pedal = next(pedals)
            wanted = [wanted_note(part.instrument, note, keep_places, keep_fingers) for note in moment.notes]
            struck = tuple(
                StruckNote(note.string, replace(one, pedal=pedal), tie_of(note))
                for note, one in zip(moment.notes, wanted, strict=True)
            )
            steps.append(StruckMoment(struck, clock.seconds(start + float(moment.offset)), moment.ring))
    return tuple(steps)


def _pedals(moments: Sequence[Moment], neck: Instrument) -> list[bool]:
    """For each moment whether it is one palm-muted note that is struck just before or just after as well."""
    pitches = [
        note_midi(neck, moment.notes[0])
        if moment.mute and len(moment.notes) == 1 and moment.notes[0].touch is not Touch.DEAD
        else None
        for moment in moments
    ]
    before, after = [None, *pitches], [*pitches[1:], None]
    return [one is not None and one in around for one, *around in zip(pitches, before, after, strict=False)]


def played(bar: Iterable[Moment]) -> Iterable[Moment]:
    """The moments of a bar that strike or silence something."""
    return (moment for moment in bar if moment.notes or moment.rest)


def tie_of(note: Note) -> Tie:
    """How a written note hangs on the one before it on its string."""
    return TIES.get(note.attack, Tie.NONE)


def wanted_note(neck: Instrument, note: Note, keep_place: bool, keep_finger: bool) -> WantedNote:
    """What a written note asks of the hand."""
    dead = note.touch is Touch.DEAD
    return WantedNote(
        None if dead else note_midi(neck, note),
        (note.string, note.fret) if keep_place else None,
        FINGER_NUMBERS[note.finger] if keep_finger else 0,
        0 if note.bend is None else max(note.bend - note.fret, 0),
        note.vibrato,
        dead or note.attack is Attack.TAP,
        note.touch is Touch.HARMONIC,
    )


def without_fingers(part: TabPart) -> TabPart:
    """The part with no finger marks."""
    return replace(
        part,
        bars=tuple(
            tuple(replace(moment, notes=tuple(replace(note, finger="") for note in moment.notes)) for moment in bar)
            for bar in part.bars
        ),
    )
