"""An exercise from a score: riffs from its sections, a form where one comes again, tempos, keys, parts.

Everything that reads a format ends here. What an exercise of ours once put beside a score (`details`) is taken up
where it still fits the music, so that such a score comes back as the exercise it was.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.exchange.countable import is_countable
from trainer.exchange.details import ExerciseDetails, RiffDetails
from trainer.exchange.placing import neck_for
from trainer.exchange.score import Change, Score, ScorePart
from trainer.exchange.stretch import PartStretch, Stretch, Tell
from trainer.exchange.written_part import drum_part, tab_part
from trainer.music.exercise import Exercise, FormStep
from trainer.music.instrument import BASS, MAX_FRETS, MAX_STRINGS, STANDARD, Instrument, instrument
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.note import Touch
from trainer.music.part import DrumPart, PartSettings, TabPart
from trainer.music.pitch import Pitch
from trainer.music.printable import printable
from trainer.music.riff import Riff
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM, Tempo, TempoMark
from trainer.notation.front import DEFAULT_KEY, MOST_TIMES
from trainer.notation.read import MOST_FORM_BARS

MOST_NAME = 60
_NO_NAME = re.compile(r"[`|~\\\[\]<>&*_]")
_TIMES = re.compile(r"\s+x\d+$")
_FRETS = 24


@dataclass(frozen=True, slots=True)
class Assembled:
    """An exercise and what had to be changed on the way."""

    exercise: Exercise
    changes: tuple[Change, ...]


def assemble(score: Score) -> Assembled:
    """The exercise that a score makes. Each riff stands once; a section that comes again goes into the form."""
    return _Assembler(score).assembled()


def exercise_id(title: str) -> str:
    """An id from a title: small letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")[:60].strip("-") or "untitled"


def plain_name(text: str, default: str) -> str:
    """A name from a file as a heading or a part may bear it."""
    text = printable(_NO_NAME.sub(" ", " ".join(text.split())))
    text = " ".join(text.strip("# \t").split())[:MOST_NAME].strip("# ")
    return _TIMES.sub("", text).strip() or default


class _Assembler:
    """Makes riffs of the stretches between a score's sections."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self.tell: Tell = list(score.changes)
        self.starts = [Fraction(0)]
        for meter in score.meters:
            self.starts.append(self.starts[-1] + meter.length)
        self.names = _part_names(score.parts)
        self.details = self._fitting_details()
        guitars = {name: part for name, part in self._by_name() if part.necks and not name.startswith("bass")}
        self.retuned = {name for name, part in guitars.items() if len({tuning for _, tuning, _ in part.necks}) > 1}
        """Guitars that have another tuning in some riffs."""
        first = next((part.necks[0][1] for part in guitars.values()), STANDARD)
        own = self.details.tuning if self.details else ()
        self.tuning = own if _is_tuning(own) else first
        """The exercise's tuning."""

    def _by_name(self) -> Iterator[tuple[str, ScorePart]]:
        """The parts with their names in the exercise."""
        return zip(self.names, self.score.parts, strict=True)

    def assembled(self) -> Assembled:
        stretches = self._stretches()
        main = {name: self._main_neck(part) for name, part in self._by_name()}
        built = [self._riff(name, stretch, main) for name, stretch in stretches]
        riffs, form = _once(built)
        if self.details and self.details.form:
            form = tuple(FormStep(name, times) for name, times in self.details.form)
        title = plain_name(self.score.title, "Untitled")
        first = riffs[0]
        own = self.details or ExerciseDetails()
        exercise = Exercise(
            id=exercise_id(own.id or title),
            title=title,
            key=_key(own.key) or first.key,
            tempo=_tempo(own.start, own.target) or first.tempo,
            riffs=riffs,
            meter=_meter(own.meter) or first.meters[0],
            tuning=self.tuning,
            by=printable(self.score.by),
            licence=printable(self.score.licence),
            tags=tuple(printable(tag) for tag in own.tags if tag.strip()),
            form=form,
            parts=self._settings(main, riffs),
        )
        return Assembled(exercise, tuple(sorted(set(self.tell))))

    def _fitting_details(self) -> ExerciseDetails | None:
        """What an exercise of ours put beside the score, if it still is about this music."""
        details = self.score.details
        if not details.riffs:
            return None
        bars = {riff.name: riff.bars for riff in details.riffs}
        cuts = [*(bar for bar, _ in self.score.sections), len(self.score.meters)]
        found = [
            bars.get(name) == until - bar for (bar, name), until in zip(self.score.sections, cuts[1:], strict=True)
        ]
        known = {name for _, name in self.score.sections}
        in_form = all(name in known and 1 <= times <= MOST_TIMES for name, times in details.form)
        if found and all(found) and cuts[0] == 0 and in_form:
            return details
        self.tell.append(
            Change(0, "", "", "the score was changed since Twinspur wrote it: its form and modes are gone")
        )
        return None

    def _stretches(self) -> list[tuple[str, Stretch]]:
        """The riffs' names and bars: cut where sections and keys begin."""
        bars = len(self.score.meters)
        cuts: dict[int, str] = {}
        for bar, name in self.score.sections:
            if bar < bars:
                cuts.setdefault(bar, name if self.details else plain_name(name, f"Part {len(cuts) + 1}"))
        if 0 not in cuts:
            cuts[0] = "Opening" if cuts else "Whole piece"
        keys = {bar: key for bar, key in self.score.keys if 0 < bar < bars and bar not in cuts}
        for bar, key in sorted(keys.items()):
            before = max(cut for cut in cuts if cut < bar)
            cuts[bar] = f"{cuts[before].partition(', in ')[0]}, in {key}"
        ordered = sorted(cuts)
        return [
            (cuts[bar], Stretch(bar, self.score.meters[bar:until], self.starts[bar]))
            for bar, until in zip(ordered, [*ordered[1:], bars], strict=True)
        ]

    def _main_neck(self, part: ScorePart) -> Instrument | None:
        """The neck of a part on strings; what the score says, else the commonest that has its notes."""
        if part.drums:
            return None
        if part.necks:
            _, tuning, capo = part.necks[0]
            return instrument(tuning, capo, self._frets(part, capo))
        keys = [note.midi for note in part.notes if not note.placed and note.note.touch is not Touch.DEAD]
        neck = neck_for(keys, bass=_is_bass(part))
        usual = BASS if _is_bass(part) else STANDARD
        if keys and neck.tuning != instrument(usual).tuning:
            strings = " ".join(map(str, neck.tuning))
            self.tell.append(Change(0, "", part.name, f"its lowest notes need the tuning {strings}, which is taken"))
        return neck

    def _frets(self, part: ScorePart, capo: int) -> int:
        """As many frets as its notes need, 24 at least."""
        highest = max((max(n.note.fret, n.note.bend or 0) for n in part.notes if n.placed), default=0)
        return min(max(_FRETS, highest + capo), MAX_FRETS)

    def _settings(self, main: dict[str, Instrument | None], riffs: Sequence[Riff]) -> tuple[PartSettings, ...]:
        found = []
        for name, neck in main.items():
            if neck is None or not any(riff.part(name) for riff in riffs):
                continue
            usual = BASS if name.startswith("bass") else () if any(riff.tuning for riff in riffs) else self.tuning
            tuning = tuple(str(pitch) for pitch in neck.tuning)
            settings = PartSettings(
                name,
                tuning=() if tuning == usual or name in self.retuned else tuning,
                capo=neck.capo,
                frets=neck.frets,
            )
            if settings != PartSettings(name):
                found.append(settings)
        return tuple(found)

    def _riff(self, name: str, stretch: Stretch, main: dict[str, Instrument | None]) -> Riff:
        details = self._details_of(name)
        tempo, marks = self._tempos(stretch, details)
        tuning = self._own_tuning(stretch)
        parts: list[TabPart | DrumPart] = []
        for part_name, part in self._by_name():
            neck = main[part_name]
            if neck is None:
                hits = [(at, hit) for at, hit in part.hits if stretch.start <= at < stretch.end]
                if hits:
                    parts.append(drum_part(PartStretch(stretch, part_name, self.tell), hits))
                continue
            notes = [note for note in part.notes if stretch.start <= note.at < stretch.end]
            chords = [(at, chord) for at, chord in part.chords if stretch.start <= at < stretch.end]
            if not notes and not chords:
                continue
            if part_name in self.retuned:
                neck = replace(neck, tuning=tuple(Pitch.parse(each) for each in tuning or self.tuning))
            here = _neck_at(part, stretch.first)
            if here and here != (tuple(map(str, neck.tuning)), neck.capo):
                notes = [note.anywhere() for note in notes]
                what = f"another tuning or capo than can be written in {name}: its notes are placed anew"
                self.tell.append(Change(stretch.first + 1, "", part.name, what))
            parts.append(tab_part(PartStretch(stretch, part_name, self.tell), notes, chords, neck))
        if not parts:
            first = next((each for each in main if main[each]), None)
            empty = tuple(() for _ in stretch.meters)
            parts.append(TabPart(first, main[first] or instrument(), empty) if first else DrumPart("drums", empty))
        silent = next((each for each in main if main[each] and each not in {part.name for part in parts}), None)
        if silent and any(not _is_said(mark, parts[0], stretch) for mark in marks):
            # The first part writes the tempo marks: one with nothing to play can say all of them.
            parts.insert(0, TabPart(silent, main[silent] or instrument(), tuple(() for _ in stretch.meters)))
        marks = self._countable_marks(marks, parts[0], stretch)
        key = (_key(details.key) if details else None) or self._key_at(stretch.first)
        return Riff(name, key, tempo, stretch.meters, tuple(parts), marks, tuning)

    def _own_tuning(self, stretch: Stretch) -> tuple[str, ...]:
        """A tuning that the guitars have in this riff and not in all; empty where none can be written."""
        here = {
            neck[0]
            for name, part in self._by_name()
            if name in self.retuned
            and any(stretch.start <= note.at < stretch.end for note in part.notes)
            and (neck := _neck_at(part, stretch.first))
        }
        return here.pop() if len(here) == 1 and here != {self.tuning} else ()

    def _details_of(self, name: str) -> RiffDetails | None:
        riffs = self.details.riffs if self.details else ()
        return next((riff for riff in riffs if riff.name == name), None)

    def _key_at(self, bar: int) -> Key:
        return next((key for at, key in reversed(self.score.keys) if at <= bar), DEFAULT_KEY)

    def _tempos(self, stretch: Stretch, details: RiffDetails | None) -> tuple[Tempo, tuple[TempoMark, ...]]:
        """The riff's tempo and the marks inside it."""
        own = _tempo(details.start, details.target) if details else None
        if own and details:
            return own, _marks_of(details, stretch)
        quarters = next((bpm for at, bpm in reversed(self.score.tempos) if at <= stretch.start), None)
        if quarters is None:
            quarters = self.score.tempos[0][1] if self.score.tempos else Fraction(120)
        target = self._bpm(quarters, stretch.meters[0], stretch, Fraction(0))
        marks: list[TempoMark] = []
        inside = {at - stretch.start: bpm for at, bpm in self.score.tempos if stretch.start < at < stretch.end}
        pulse = stretch.meters[0].pulse
        now = target
        changes = {start for start, meter in zip(stretch.starts, stretch.meters, strict=False)}
        for at in sorted({*inside, *changes}):
            quarters = inside.get(at, quarters)
            meter = stretch.meters[stretch.bar_of(at)]
            if at in inside or meter.pulse != pulse:
                pulse = meter.pulse
                bpm = self._bpm(quarters, meter, stretch, at)
                if bpm != now:
                    now = bpm
                    marks.append(TempoMark(at, bpm, False))
        start = Fraction(max(SLOWEST_BPM, int(target * 2 / 3)))
        return Tempo(min(start, target), target), tuple(_gradual(marks))

    def _bpm(self, quarters: Fraction, meter: Meter, stretch: Stretch, at: Fraction) -> Fraction:
        """A tempo in pulses a minute, as it is written."""
        exact = quarters / (4 * meter.pulse)
        bpm = Fraction(round(exact * 100), 100)
        bpm = Fraction(round(bpm)) if abs(bpm - round(bpm)) <= Fraction(3, 100) else bpm
        inside = min(max(bpm, Fraction(SLOWEST_BPM)), Fraction(FASTEST_BPM))
        if inside != bpm:
            what = f"a tempo of {float(min(exact, Fraction(99999))):.4g} bpm is read as {inside}"
            self.tell.append(stretch.change(at, "", what))
        return inside

    def _countable_marks(
        self, marks: Sequence[TempoMark], part: TabPart | DrumPart, stretch: Stretch
    ) -> tuple[TempoMark, ...]:
        """The marks where the part that writes them can say them: else at the count before."""
        done: dict[Fraction, TempoMark] = {}
        for mark in marks:
            bar = stretch.bar_of(mark.at)
            start, meter = stretch.starts[bar], stretch.meters[bar]
            offset = mark.at - start
            there = {each.offset for each in part.bars[bar]}
            there |= {at - start for at in done if start <= at}
            if not is_countable(frozenset({*there, offset}), meter):
                offset = int(offset / meter.count_length) * meter.count_length
                self.tell.append(stretch.change(start + offset, "", "a tempo mark is moved to its count"))
            done[start + offset] = replace(mark, at=start + offset)
        return tuple(done[at] for at in sorted(done))


def _is_said(mark: TempoMark, part: TabPart | DrumPart, stretch: Stretch) -> bool:
    """Whether a part's count row can say a tempo mark."""
    bar = stretch.bar_of(mark.at)
    places = {each.offset for each in part.bars[bar]} | {mark.at - stretch.starts[bar]}
    return is_countable(frozenset(places), stretch.meters[bar])


def _part_names(parts: Sequence[ScorePart]) -> list[str]:
    """The parts' names as an exercise bears them, each once."""
    names: list[str] = []
    for part in parts:
        name = plain_name(part.name, "drums" if part.drums else f"part {len(names) + 1}")
        if part.drums and not name.casefold().startswith("drum"):
            name = "drums"
        if not part.drums and name.casefold().startswith("drum"):
            name = f"part {len(names) + 1}"
        unique, number = name, 2
        while unique in names:
            unique, number = f"{name} {number}", number + 1
        names.append(unique)
    return names


def _is_bass(part: ScorePart) -> bool:
    return "bass" in part.name.casefold()


def _neck_at(part: ScorePart, bar: int) -> tuple[tuple[str, ...], int] | None:
    return next(((tuning, capo) for at, tuning, capo in reversed(part.necks) if at <= bar), None)


def _once(built: Sequence[Riff]) -> tuple[tuple[Riff, ...], tuple[FormStep, ...]]:
    """Every riff once, and the form where one comes again; different riffs get different names."""
    riffs: list[Riff] = []
    steps: list[tuple[str, int]] = []
    for riff in built:
        same = next((each for each in riffs if replace(riff, name=each.name) == each and _alike(riff, each)), None)
        if same is None:
            name, number = riff.name, 2
            while any(each.name == name for each in riffs):
                name, number = f"{riff.name} ({number})", number + 1
            same = replace(riff, name=name)
            riffs.append(same)
        if steps and steps[-1][0] == same.name and steps[-1][1] < MOST_TIMES:
            steps[-1] = (same.name, steps[-1][1] + 1)
        else:
            steps.append((same.name, 1))
    bars = sum(len(riff.meters) for riff in built)
    if len(built) == len(riffs) or bars > MOST_FORM_BARS:
        return tuple(riffs), ()
    return tuple(riffs), tuple(FormStep(name, times) for name, times in steps)


def _alike(riff: Riff, other: Riff) -> bool:
    """Whether one is another's return: sections with other names stay riffs of their own."""
    return riff.name == re.sub(r" \(\d+\)$", "", other.name) or riff.name == other.name


def _gradual(marks: Sequence[TempoMark]) -> list[TempoMark]:
    """Marks with runs of many small steps one way, as files write a gradual change, made one gradual mark each."""
    done: list[TempoMark] = []
    at = 0
    while at < len(marks):
        end = at
        while end + 1 < len(marks) and _goes_on(marks, at, end):
            end += 1
        if end - at >= 3:
            done += [replace(marks[at], bpm=marks[end].bpm, gradual=True), replace(marks[end], gradual=False)]
        else:
            done += marks[at : end + 1]
        at = end + 1
    return done


def _goes_on(marks: Sequence[TempoMark], first: int, last: int) -> bool:
    """Whether the next mark is one more small step of a gradual change."""
    near = marks[last + 1].at - marks[last].at <= Fraction(1, 4)
    rising = marks[last + 1].bpm > marks[last].bpm
    return near and (last == first or rising == (marks[last].bpm > marks[first].bpm))


def _marks_of(details: RiffDetails, stretch: Stretch) -> tuple[TempoMark, ...]:
    found = {}
    for place, text, gradual in details.marks:
        at, bpm = _fraction(place), _fraction(text)
        if at is not None and bpm is not None and 0 <= at < stretch.starts[-1] and _is_tempo(bpm):
            found[at] = TempoMark(at, bpm, gradual)
    return tuple(found[at] for at in sorted(found))


def _is_tempo(bpm: Fraction) -> bool:
    return SLOWEST_BPM <= bpm <= FASTEST_BPM


def _fraction(text: str) -> Fraction | None:
    return Fraction(text) if re.fullmatch(r"\d{1,9}(/[1-9]\d{0,8})?", text, re.ASCII) else None


def _tempo(start: str, target: str) -> Tempo | None:
    first, last = _fraction(start), _fraction(target)
    if first is None or last is None or not (_is_tempo(first) and _is_tempo(last) and first <= last):
        return None
    return Tempo(first, last)


def _is_tuning(names: tuple[str, ...]) -> bool:
    try:
        return 1 <= len(names) <= MAX_STRINGS and all(0 < Pitch.parse(name).midi < 100 for name in names)
    except ValueError:
        return False


def _key(text: str) -> Key | None:
    try:
        return Key.parse(text)
    except ValueError:
        return None


def _meter(text: str) -> Meter | None:
    try:
        return Meter.parse(text)
    except ValueError:
        return None
