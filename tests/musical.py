"""Random music for property tests: valid exercises of every kind that the file can say."""

from collections.abc import Callable
from fractions import Fraction

from hypothesis import strategies as st

from trainer.music.exercise import Exercise, FormStep, LadderSettings
from trainer.music.instrument import BASS, HARMONICS, STANDARD, Instrument
from trainer.music.interval import Distance
from trainer.music.key import MODES, Key
from trainer.music.meter import Meter
from trainer.music.note import KIT, Attack, DrumMoment, Force, Hit, Moment, Note, Touch
from trainer.music.part import DrumPart, HarmonyException, HarmonyPart, PartSettings, TabPart
from trainer.music.pitch import Name, Pitch
from trainer.music.riff import Riff, bar_starts
from trainer.music.tempo import Tempo, TempoMark

meters = st.sampled_from([Meter.parse(text) for text in ("4/4", "3/4", "5/4", "7/8", "12/8", "6/8", "2/2", "13/16")])
keys = st.builds(Key, st.builds(Name, st.integers(0, 6), st.integers(-1, 1)), st.sampled_from(sorted(MODES)))
words = st.text(st.characters(categories=["L", "N"], max_codepoint=0x2FF), min_size=1, max_size=8)
titles = st.lists(words, min_size=1, max_size=3).map(" ".join)
proses = st.lists(titles, max_size=2).map("\n\n".join).filter(lambda text: not text.startswith(("#", ">")))
tempos = st.tuples(st.integers(20, 400), st.integers(20, 400)).map(
    lambda two: Tempo(Fraction(min(two)), Fraction(max(two)))
)


def grid(meter: Meter) -> list[Fraction]:
    """Every place of a bar that a count row of sixteenths can say."""
    return [Fraction(i, 4 * meter.unit) for i in range(4 * meter.counts)]


def fine_grid(meter: Meter) -> list[Fraction]:
    """Thirty-seconds and sextuplets as well."""
    beats = range(meter.counts)
    parts = {*(Fraction(i, 8) for i in range(8)), *(Fraction(i, 6) for i in range(6))}
    return sorted((beat + part) / meter.unit for beat in beats for part in parts)


def tuplet_grid(parts: int) -> Callable[[Meter], list[Fraction]]:
    """Beats that are divided evenly, as dots in a count row do."""
    return lambda meter: [Fraction(i, parts * meter.unit) for i in range(parts * meter.counts)]


TUPLETS = tuple(tuplet_grid(parts) for parts in (5, 7, 9, 11))


@st.composite
def notes(draw: st.DrawFn, string: int, instrument: Instrument) -> Note:
    """One note on a string, with techniques that go together."""
    kind = draw(st.sampled_from(["fretted"] * 6 + ["dead", "harmonic", "bend"]))
    if kind == "dead":
        return Note(string, 0, touch=Touch.DEAD, short=draw(st.booleans()))
    if kind == "harmonic":
        over = draw(st.sampled_from(sorted(fret for fret in HARMONICS if fret <= instrument.last_fret)))
        return Note(string, over, touch=Touch.HARMONIC)
    if kind == "bend":
        fret = draw(st.integers(1, instrument.last_fret - 3))
        bend = draw(st.integers(fret + 1, fret + 3))
        release = draw(st.none() | st.integers(fret, bend - 1))
        return Note(string, fret, bend=bend, release=release, vibrato=draw(st.booleans()))
    fret = draw(st.integers(0, instrument.last_fret))
    finger = draw(st.sampled_from(["", "1", "2", "3", "4", "T"])) if fret else ""
    attack = draw(st.sampled_from([Attack.PICK, Attack.PICK, Attack.TAP]))
    return Note(string, fret, attack=attack, vibrato=draw(st.booleans()), short=draw(st.booleans()), finger=finger)


@st.composite
def moments(draw: st.DrawFn, offset: Fraction, instrument: Instrument) -> Moment:
    """What starts at one count: a note, a chord, a rest or a chord's name."""
    chord = draw(st.sampled_from(["", "", "", "Em", "G5", "B7b5"]))
    kind = draw(st.sampled_from(["notes", "notes", "notes", "rest"]))
    if kind == "rest":
        return Moment(offset, rest=True, chord=chord)
    strings = sorted(draw(st.sets(st.integers(1, instrument.strings), min_size=1, max_size=3)))
    played = tuple(draw(notes(string, instrument)) for string in strings)
    fretted = [note for note in played if note.fret]
    if len({bool(note.finger) for note in fretted}) > 1:
        played = tuple(Note(n.string, n.fret, n.attack, n.touch, n.bend, n.release, n.vibrato, n.short) for n in played)
    return Moment(
        offset,
        played,
        mute=draw(st.booleans()),
        ring=draw(st.booleans()),
        accent=draw(st.sampled_from(["", "", ">", "^"])),
        pick=draw(st.sampled_from(["", "d", "u"])),
        chord=chord,
    )


@st.composite
def tab_parts(draw: st.DrawFn, name: str, instrument: Instrument, bars: tuple[Meter, ...]) -> TabPart:
    """A part on strings over given meters."""
    written = []
    for meter in bars:
        # Tempo marks are written in the first part, on sixteenths: an eleventh of the same beat has no count row.
        chosen = draw(st.sampled_from([grid, fine_grid, *(TUPLETS if name == "bass" else ())]))
        places = draw(st.sets(st.sampled_from(chosen(meter)), max_size=6))
        # A sixth and an eighth of one beat have no count row in common.
        if chosen is fine_grid and len({(p * meter.unit) // 1 for p in places if not _plain(p * meter.unit)}) < len(
            [p for p in places if not _plain(p * meter.unit)]
        ):
            places = {p for p in places if _plain(p * meter.unit)}
        written.append(tuple(draw(moments(place, instrument)) for place in sorted(places)))
    return TabPart(name, instrument, tuple(written))


def _plain(place: Fraction) -> bool:
    return (place * 4).denominator == 1


@st.composite
def drum_parts(draw: st.DrawFn, bars: tuple[Meter, ...]) -> DrumPart:
    """A part for the kit over given meters."""
    written = []
    for meter in bars:
        places = sorted(draw(st.sets(st.sampled_from(grid(meter)), max_size=5)))
        pieces = st.sets(st.sampled_from(range(len(KIT))), min_size=1, max_size=3).map(sorted)
        written.append(
            tuple(
                DrumMoment(place, tuple(Hit(KIT[i], draw(st.sampled_from(list(Force)))) for i in draw(pieces)))
                for place in places
            )
        )
    return DrumPart("drums", tuple(written))


@st.composite
def riffs(draw: st.DrawFn, name: str) -> Riff:
    """A riff of one to four bars for some of the band."""
    first = draw(meters)
    bars = tuple(draw(st.sampled_from([first, first, first]) | meters) for _ in range(draw(st.integers(1, 4))))
    guitar = Instrument(tuple(Pitch.parse(name) for name in STANDARD))
    bass = Instrument(tuple(Pitch.parse(name) for name in BASS))
    parts = [draw(tab_parts("guitar 1", guitar, bars))]
    if draw(st.booleans()):
        parts.append(draw(tab_parts("bass", bass, bars)))
    if draw(st.booleans()):
        parts.append(draw(drum_parts(bars)))
    if draw(st.booleans()):
        parts.append(draw(harmony_parts(bars, guitar)))
    starts = bar_starts(bars)
    places = sorted(
        draw(
            st.sets(
                st.sampled_from([start + p for start, m in zip(starts, bars, strict=False) for p in grid(m)]),
                max_size=2,
            )
        )
    )
    marks = tuple(TempoMark(at, Fraction(draw(st.integers(20, 400))), draw(st.booleans())) for at in places)
    return Riff(name, draw(keys), draw(tempos), bars, tuple(parts), marks, prose=draw(proses))


@st.composite
def harmony_parts(draw: st.DrawFn, bars: tuple[Meter, ...], instrument: Instrument) -> HarmonyPart:
    """A second guitar that is still to be computed."""
    distances = st.sampled_from(
        [Distance.parse(text) for text in ("third above", "sixth below", "perfect fourth above", "octave below")]
    )
    exceptions = ()
    if draw(st.booleans()):
        bar = draw(st.integers(1, len(bars)))
        exceptions = (HarmonyException(bar, draw(st.sampled_from(grid(bars[bar - 1])[::2])), draw(distances)),)
    near = draw(st.none() | st.integers(0, 20))
    return HarmonyPart("guitar 2", "guitar 1", draw(distances), exceptions, near, instrument)


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    """A whole exercise of one to three riffs."""
    names = draw(st.lists(titles, min_size=1, max_size=3, unique=True))
    made = tuple(draw(riffs(name)) for name in names)
    form = tuple(
        FormStep(draw(st.sampled_from(names)), draw(st.integers(1, 4))) for _ in range(draw(st.integers(0, 3)))
    )
    settings = PartSettings(
        "bass", draw(st.sampled_from(["", "picked bass"])), pan=draw(st.sampled_from([None, -0.5, 1]))
    )
    return Exercise(
        id=draw(st.from_regex(r"[a-z0-9][a-z0-9-]{0,6}[a-z0-9]", fullmatch=True)),
        title=draw(titles),
        key=draw(keys),
        tempo=draw(tempos),
        riffs=made,
        meter=draw(meters),
        by=draw(st.just("") | titles),
        tags=tuple(draw(st.lists(words, max_size=2))),
        form=form,
        parts=(settings,) if draw(st.booleans()) else (),
        ladder=LadderSettings(draw(st.sampled_from(["", "4", "3%"])), draw(st.none() | st.integers(1, 5))),
        prose=draw(proses),
    )
