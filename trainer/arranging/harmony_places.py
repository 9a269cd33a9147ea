"""Where a computed harmony is played: the fingering solver's choice, written as a part."""

from collections.abc import Sequence
from fractions import Fraction

from trainer.arranging.chain import TIES, StruckMoment, StruckNote, chain
from trainer.arranging.fingering import NoGripError, best_fingering
from trainer.arranging.grip import HeldPlace, Limits, WantedNote
from trainer.arranging.harmony_line import HarmonyMoment, HarmonyNote
from trainer.arranging.move_costs import Tie
from trainer.arranging.riff_clock import RiffClock
from trainer.music.instrument import HARMONICS, Instrument
from trainer.music.note import Attack, Moment, Note, Touch

HarmonyBars = Sequence[Sequence[HarmonyMoment]]


class UnplacedError(Exception):
    """A moment of a harmony that no grip holds."""

    def __init__(self, bar: int, moment: HarmonyMoment) -> None:
        super().__init__(f"bar {bar}")
        self.bar = bar
        self.moment = moment


def place_bars(
    bars: HarmonyBars, neck: Instrument, starts: Sequence[Fraction], clock: RiffClock, limits: Limits
) -> tuple[tuple[Moment, ...], ...]:
    """The bars of a harmony on strings and frets, without fingers.

    Raises:
        UnplacedError: no grip holds a moment.
    """
    steps: list[StruckMoment] = []
    where: list[tuple[int, HarmonyMoment]] = []
    for number, bar in enumerate(bars):
        start = float(starts[number])
        for moment in bar:
            seconds = clock.seconds(start + float(moment.moment.offset))
            steps.append(StruckMoment(tuple(map(_struck, moment.notes)), seconds, moment.moment.ring))
            where.append((number, moment))
    found = chain(steps, neck, limits=limits)
    try:
        way = best_fingering(found.events, neck, limits=limits)
    except NoGripError as error:
        raise UnplacedError(*where[found.steps[error.event]]) from None
    placed: list[list[Moment]] = [[] for _ in bars]
    grips = dict(zip(found.steps, way.grips, strict=True))
    strings: dict[int, int] = {}
    for number, (bar_number, moment) in enumerate(where):
        grip = grips.get(number)
        placed[bar_number].append(_moment(moment, grip.notes if grip else (), neck, strings))
    return tuple(tuple(bar) for bar in placed)


def wanted_of(note: HarmonyNote) -> WantedNote:
    """What a note of a harmony asks of the hand."""
    line = note.line
    free = note.pitch is None or note.attack is Attack.TAP
    midi = None if note.pitch is None else note.pitch.midi
    return WantedNote(midi, None, 0, note.bend or 0, line.vibrato, free, line.touch is Touch.HARMONIC)


def _struck(note: HarmonyNote) -> StruckNote:
    tie = TIES[note.attack] if note.linked else Tie.NONE
    return StruckNote(note.line.string, wanted_of(note), tie)


def _moment(moment: HarmonyMoment, held: Sequence[HeldPlace], neck: Instrument, strings: dict[int, int]) -> Moment:
    """A moment with its notes on strings; `strings` keeps the string on which each voice sounded last."""
    notes = []
    for note, (string, fret, _) in zip(moment.notes, held, strict=False):
        notes.append(_note(note, string, fret, neck, strings.get(note.line.string)))
        strings[note.line.string] = string
    line = moment.moment
    ordered = tuple(sorted(notes, key=lambda note: note.string))
    return Moment(line.offset, ordered, line.rest, line.mute, line.ring, line.accent, line.pick)


def _note(wanted: HarmonyNote, string: int, fret: int, neck: Instrument, before: int | None) -> Note:
    line = wanted.line
    touch = line.touch
    if touch is Touch.HARMONIC and wanted.pitch is not None:
        sounds = fret in HARMONICS and neck.harmonic_midi(string, fret) == wanted.pitch.midi
        touch = Touch.HARMONIC if sounds else Touch.FRETTED
    return Note(
        string,
        fret,
        Attack.PICK if wanted.linked and before != string else wanted.attack,
        touch,
        None if wanted.bend is None else fret + wanted.bend,
        None if wanted.release is None else fret + wanted.release,
        line.vibrato,
        line.short,
    )
