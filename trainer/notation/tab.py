"""A tab block: systems of bars become a part, similes and repeats written out, with its meters and tempo marks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.instrument import Instrument
from trainer.music.meter import Meter
from trainer.music.note import KIT, Attack, DrumMoment, Moment, Note, Touch
from trainer.music.part import DrumPart, TabPart
from trainer.notation.bar import BarTempo, ReadBar, cell_at, is_simile, read_drum_bar, read_string_bar
from trainer.notation.document import Block
from trainer.notation.ranges import ROWS as RANGE_ROWS
from trainer.notation.ranges import read_spans
from trainer.notation.report import Report
from trainer.notation.system import COUNT, System, read_systems

MOST_BARS = 2_000
"""Bars in one riff, repeats written out."""


@dataclass(frozen=True, slots=True)
class Direction:
    """Which way a technique moves along the string."""

    name: str
    sign: int
    """1 up, -1 down."""
    opposite: str
    """The mark of the technique that goes the other way."""


DIRECTIONS = {
    Attack.HAMMER: Direction("a hammer-on", 1, Attack.PULL.value),
    Attack.PULL: Direction("a pull-off", -1, Attack.HAMMER.value),
    Attack.SLIDE_UP: Direction("a slide up", 1, Attack.SLIDE_DOWN.value),
    Attack.SLIDE_DOWN: Direction("a slide down", -1, Attack.SLIDE_UP.value),
}

Place = tuple[int, int]
"""A line counted from 1 and a character of it counted from 0."""


@dataclass(slots=True)
class WrittenBar:
    """A bar as it stands in the block."""

    cells: dict[str, str]
    """For each row's label the text between its bar lines, without the meter row."""
    places: dict[str, Place]
    """For each row's label where that text begins."""
    simile: bool
    meter: Meter | None = None
    """A meter written at its start."""
    carried: frozenset[str] = frozenset()
    """Mark rows in which a range goes on from the bar before."""


@dataclass(slots=True)
class WrittenTab:
    """A tab block as it stands: its bars, and the order in which they are played."""

    part: str
    line: int
    drums: bool
    bars: list[WrittenBar] = field(default_factory=list)
    order: list[int] = field(default_factory=list)
    """Indices into `bars`, repeats written out."""
    sound: bool = True
    """False where rows could not be read, so that the number of bars says nothing."""

    def put_in_order(self, order: Sequence[int]) -> None:
        """Play the bars in another order, given by their numbers from 1; `%` goes on repeating what it stood behind."""
        if len(self.order) < max(order, default=0):
            return
        resolved: list[int] = []
        for index in self.order:
            resolved.append(resolved[-1] if resolved and self.bars[index].simile else index)
        self.order = [resolved[number - 1] for number in order]

    @property
    def has_meters(self) -> bool:
        """Whether it says any meter itself."""
        return any(bar.meter for bar in self.bars)


def written(block: Block, report: Report) -> WrittenTab:
    """Take a tab block apart."""
    before = len(report.problems)
    systems = read_systems(block.content, block.line + 1, block.indent, report)
    tab = WrittenTab(block.part, block.line, any(system.is_drums for system in systems))
    going: frozenset[str] = frozenset()
    for system in systems:
        first = len(tab.bars)
        for index in range(len(system.counts.bars)):
            bar = _bar(system, index, report)
            bar.carried = going
            going = ranges_going(bar.cells, going)
            tab.bars.append(bar)
        if len(tab.order) <= MOST_BARS:
            tab.order += list(range(first, len(tab.bars))) * system.times
        _check_rows(system, tab.part, tab.drums, report)
    if len(tab.order) > MOST_BARS:
        report.add(
            block.line, 0, f"{block.part} has more than {MOST_BARS} bars", hint="Divide it into riffs and a form"
        )
        del tab.order[MOST_BARS:]
    if not tab.bars and len(report.problems) == before:
        report.add(block.line, 0, f"the tab of {block.part} is empty", hint="Write a count row and a row for a string")
    tab.sound = len(report.problems) == before
    return tab


def ranges_going(cells: Mapping[str, str], carried: frozenset[str]) -> frozenset[str]:
    """The mark rows in which a range may go on in the next bar."""
    return frozenset(row for row in RANGE_ROWS if row in cells and read_spans(cells[row], row in carried)[1])


def _bar(system: System, index: int, report: Report) -> WrittenBar:
    cells = {label: row.bars[index][1] for label, row in system.rows.items() if label != "meter"}
    places = {label: (row.line, row.bars[index][0]) for label, row in system.rows.items()}
    meter = None
    if "meter" in system.rows:
        text = system.rows["meter"].bars[index][1]
        word = text.strip(" -")
        line, begin = places["meter"]
        at = begin + len(text) - len(text.lstrip(" -"))
        counts = cells[COUNT]
        if word:
            try:
                meter = Meter.parse(word)
            except ValueError:
                report.add(line, at + 1, f'"{word}" is not a meter', "such as 4/4, 7/8 or 12/8")
            if at - begin > len(counts) - len(counts.lstrip(" -")):
                report.add(line, at + 1, "a meter inside a bar", hint="Write it over the bar's first count")
    return WrittenBar(cells, places, is_simile(cells), meter)


def _check_rows(system: System, part: str, drums: bool, report: Report) -> None:
    strings = any(label.isdigit() for label in system.rows)
    pieces = [row for label, row in system.rows.items() if label in KIT]
    if strings and pieces and not part.casefold().startswith("drum"):
        hint = "Strings and the kit have blocks of their own: ```tab drums"
        report.add(pieces[0].line, 1, f'row "{pieces[0].label}" in a tab of strings', hint=hint)
        return
    for label, row in system.rows.items():
        if drums and (label.isdigit() or label in ("accent", "mute", "ring", "pick", "finger", "chord")):
            report.add(row.line, 1, f'row "{label}" in a tab of the drums', hint="Write X for an accented hit")


def meters_of(tab: WrittenTab, default: Meter) -> list[Meter]:
    """The meter of each played bar as this block says it: from its marks on, and `default` before them."""
    found: dict[int, Meter] = {}
    current = default
    for index in tab.order:
        if index in found:
            current = found[index]
        else:
            current = found[index] = tab.bars[index].meter or current
    return [found[index] for index in tab.order]


class TabReader:
    """Reads the bars of one block under the meters that the riff has."""

    def __init__(self, tab: WrittenTab, meters: Sequence[Meter], instrument: Instrument, report: Report) -> None:
        self.tab, self.meters, self.instrument, self.report = tab, meters, instrument, report
        self.tempos: list[tuple[int, BarTempo, Place]] = []
        """Tempo marks: played bar (from 0), mark, place in the file."""
        self.done: dict[int, tuple[Meter, ReadBar]] = {}

    def read(self) -> TabPart | DrumPart:
        """The part."""
        bars: list[ReadBar] = []
        for number, index in enumerate(self.tab.order):
            if number >= len(self.meters):
                break
            meter = self.meters[number]
            before = bars[-1] if bars else None
            bars.append(self._bar(index, meter, before, self.meters[number - 1] if bars else meter))
            line = self.tab.bars[index].places.get("tempo", (0, 0))
            self.tempos += [(number, mark, line) for mark in bars[-1].tempos if "tempo" in self.tab.bars[index].places]
        if self.tab.drums:
            drum_bars: tuple[tuple[DrumMoment, ...], ...] = tuple(bar.drums for bar in bars)
            return DrumPart(self.tab.part, drum_bars)
        part = TabPart(self.tab.part, self.instrument, tuple(bar.moments for bar in bars))
        if self.tab.sound and not any(read.problems for _, read in self.done.values()):
            self._check_directions(part.bars)
        return part

    def _bar(self, index: int, meter: Meter, before: ReadBar | None, meter_before: Meter) -> ReadBar:
        bar = self.tab.bars[index]
        line, begin = bar.places[COUNT]
        if bar.simile:
            if before is None:
                self.report.add(line, begin + 1, "% in the first bar: there is no bar before it to repeat")
                return ReadBar()
            if meter != meter_before:
                what = f"% in a bar of {meter} repeats a bar of {meter_before}"
                self.report.add(line, begin + 1, what, hint="Write the bar out")
            return ReadBar(moments=before.moments, drums=before.drums)
        if index in self.done:
            read_meter, read = self.done[index]
            if read_meter != meter:
                self.report.add(line, begin + 1, f"this bar is {read_meter} the first time and {meter} when repeated")
            return read
        read = self._read(bar, meter)
        self.done[index] = (meter, read)
        for problem in read.problems:
            row_line, row_begin = bar.places[problem.row]
            self.report.add(row_line, row_begin + problem.begin + 1, problem.what, problem.allowed, problem.hint)
        return read

    def _read(self, bar: WrittenBar, meter: Meter) -> ReadBar:
        cells = bar.cells
        if self.tab.drums:
            return read_drum_bar(cells, meter)
        strings = self.instrument.strings
        wrong = [label for label in cells if label.isdigit() and int(label) > strings]
        read = read_string_bar(
            {label: text for label, text in cells.items() if label not in wrong}, meter, self.instrument, bar.carried
        )
        for label in wrong:
            line = next(bar.places[label][0] for bar in self.tab.bars if label in bar.places)
            self.report.add(line, 1, f"string {label} on a tuning of {strings} strings", f"1 to {strings}")
        return read

    def _check_directions(self, bars: Sequence[Sequence[Moment]]) -> None:
        """Hammer-ons and slides up go up from the string's last fret, pull-offs and slides down go down."""
        last: dict[int, int] = {}
        for number, bar in enumerate(bars):
            for moment in bar:
                for note in moment.notes:
                    before = last.get(note.string)
                    direction = DIRECTIONS.get(note.attack)
                    if direction and before is not None and (note.fret - before) * direction.sign <= 0:
                        self._wrong_way(number, moment.offset, note, before, direction)
                    if note.touch is Touch.FRETTED:
                        last[note.string] = note.fret

    def _wrong_way(self, number: int, offset: Fraction, note: Note, before: int, direction: Direction) -> None:
        line, column = self._place(number, offset, str(note.string))
        cell = f"{note.attack.value}{note.fret}"
        hint = f"Write {direction.opposite}{note.fret}" if note.fret != before else "Write the fret alone"
        what = f'"{cell}": {direction.name} from fret {before} to fret {note.fret}'
        self.report.add(line, column, what, "", hint)

    def _place(self, number: int, offset: Fraction, row: str) -> Place:
        """Line and column, both from 1, of the cell of a row at some place of a played bar."""
        bar = self.tab.bars[self.tab.order[number]]
        if bar.simile or row not in bar.cells:
            line, begin = bar.places[COUNT]
            return line, begin + 1
        line, begin = bar.places[row]
        cell = cell_at(bar.cells, row, offset, self.meters[number])
        return line, begin + cell + 1
