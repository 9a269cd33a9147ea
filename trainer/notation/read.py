"""Reading an exercise file: text in, an exercise or every problem out."""

from collections.abc import Collection
from fractions import Fraction
from pathlib import PurePath

from trainer.music.exercise import Exercise
from trainer.music.instrument import Instrument
from trainer.music.meter import Meter
from trainer.music.part import HarmonyPart, Part
from trainer.music.pitch import Pitch
from trainer.music.printable import is_printable
from trainer.music.problem import nearest
from trainer.music.riff import Riff, bar_starts
from trainer.music.tempo import TempoMark
from trainer.notation.document import Block, Section, normal_lines, outline
from trainer.notation.front import RIFF_KEYS, Front, read_front, read_key, read_meter, read_tempo, read_tuning
from trainer.notation.harmony import check_circles, read_harmony
from trainer.notation.report import Report
from trainer.notation.tab import TabReader, WrittenTab, meters_of, written
from trainer.notation.toml_table import read_table

MOST_FORM_BARS = 100_000
"""Bars in a whole form, written out: more than a day of playing."""


def default_id(file: str) -> str:
    """The id of a file that gives none: its name without ending."""
    return PurePath(file).stem or "exercise"


def read(text: str, file: str = "exercise.md", patches: Collection[str] | None = None) -> Exercise:
    """Read an exercise.

    Args:
        text: the file's text.
        file: the name under which problems are told, and from which the id comes where the text gives none.
        patches: the names of known patches; None leaves `patch` unchecked.

    Raises:
        ProblemsError: with everything that is wrong.
    """
    report = Report(file)
    document = outline(normal_lines(text), report)
    table = read_table(document.front, document.front_line, report)
    front = read_front(table, default_id(file), patches)
    riffs: list[Riff] = []
    names: dict[str, int] = {}
    for section in document.sections:
        if not section.name or not is_printable(section.name):
            report.add(section.line, 4, "a riff needs a name of plain characters after ##")
        if section.name in names:
            what = f'two riffs are called "{section.name}" (the first in line {names[section.name]})'
            report.add(section.line, 4, what, hint="Give one another name")
        names.setdefault(section.name, section.line)
        riff = _RiffReader(section, front, report).read()
        if riff:
            riffs.append(riff)
    if not document.sections:
        report.add(document.front_line, 0, "no riff", hint="Begin one with ## and its name, then a tab block")
    for step in front.form:
        if step.riff not in names:
            meant = nearest(step.riff, list(names))
            hint = f'Did you mean "{meant}"' if meant else ""
            table.problem("form", f'riff "{step.riff}" is not in this file', ", ".join(names), hint)
    report.stop_if_any()
    exercise = Exercise(
        id=front.id,
        title=front.title,
        key=front.key,
        tempo=front.tempo,
        riffs=tuple(riffs),
        meter=front.meter,
        tuning=front.tuning,
        by=front.by,
        licence=front.licence,
        tags=front.tags,
        form=front.form,
        parts=front.parts,
        ladder=front.ladder,
        prose="\n\n".join(document.prose),
    )
    bars = sum(len(riff.meters) for riff in exercise.played)
    if bars > MOST_FORM_BARS:
        table.problem("form", f"the form has {bars} bars", f"at most {MOST_FORM_BARS}")
    for name in (settings.name for settings in front.parts):
        meant = nearest(name, exercise.part_names) if name not in exercise.part_names else ""
        if meant:
            table.table("parts").problem(name, f'no riff has a part "{name}"', "", f'Did you mean "{meant}"')
    report.stop_if_any()
    return exercise


class _RiffReader:
    """Reads one section: first the bars of all parts, then what stands in them."""

    def __init__(self, section: Section, front: Front, report: Report) -> None:
        self.section, self.front, self.report = section, front, report
        self.tabs: list[tuple[Block, WrittenTab]] = []

    def read(self) -> Riff | None:
        """The riff, or None where it has no bars to speak of."""
        section, front, report = self.section, self.front, self.report
        own = [block for block in section.blocks if block.kind == "riff"]
        for block in own[1:]:
            report.add(block.line, 0, "a second riff block", hint="Put all its keys into the first")
        content, line = (own[0].content, own[0].line + 1) if own else ("", section.line)
        table = read_table(content, line, report)
        table.check_keys(RIFF_KEYS, "a riff block")
        tuning = read_tuning(table)
        self._written()
        if not self.tabs:
            hint = "Write a tab block, or use ### for a heading inside the text"
            report.add(section.line, 0, f'riff "{section.name}" has no tab', hint=hint)
            return None
        meters = self._meters(read_meter(table, front.meter))
        parts: list[Part] = []
        marks: dict[Fraction, tuple[TempoMark, str]] = {}
        for _, tab in self.tabs:
            reader = TabReader(tab, meters, self._instrument(tab.part, tuning), report)
            parts.append(reader.read())
            self._tempos(reader, meters, marks)
        parts = self._harmonies(parts, meters, tuning)
        return Riff(
            name=section.name,
            key=read_key(table, front.key),
            tempo=read_tempo(table, front.tempo),
            meters=tuple(meters),
            parts=tuple(parts),
            tempo_marks=tuple(marks[at][0] for at in sorted(marks)),
            tuning=tuning,
            prose="\n\n".join(section.prose),
        )

    def _written(self) -> None:
        names: set[str] = set()
        for block in self.section.blocks:
            if block.kind == "riff":
                continue
            if not block.part or not is_printable(block.part):
                what = f"a {block.kind} block without a part"
                self.report.add(block.line, 0, what, hint=f"Name it: ```{block.kind} guitar 1")
            elif block.part in names:
                hint = "A part has one block in a riff; longer parts continue in it after an empty line"
                self.report.add(block.line, 0, f'part "{block.part}" is written twice', hint=hint)
            elif block.kind == "tab":
                self.tabs.append((block, written(block, self.report)))
            names.add(block.part)

    def _meters(self, default: Meter) -> list[Meter]:
        """One meter for each bar; parts that disagree on bars or meters are reported."""
        leader = next((tab for _, tab in self.tabs if tab.has_meters), self.tabs[0][1])
        meters = meters_of(leader, default)
        for _, tab in self.tabs:
            if tab is leader or not (tab.sound and leader.sound):
                continue
            if len(tab.order) != len(meters):
                what = f"{tab.part} has {len(tab.order)} bars, {leader.part} has {len(meters)}"
                self.report.add(tab.line, 0, what, hint="All parts of a riff have the same bars")
            elif tab.has_meters:
                for number, (own, theirs) in enumerate(zip(meters_of(tab, default), meters, strict=True), 1):
                    if own != theirs:
                        what = f"bar {number} is {own} in {tab.part} and {theirs} in {leader.part}"
                        self.report.add(tab.line, 0, what, hint="All parts of a riff share their meters")
                        break
        return meters

    def _instrument(self, part: str, riff_tuning: tuple[str, ...]) -> Instrument:
        settings = self.front.settings(part)
        tuning = self.front.tuning_of(part, riff_tuning)
        return Instrument(tuple(Pitch.parse(name) for name in tuning), settings.capo, settings.frets)

    def _tempos(self, reader: TabReader, meters: list[Meter], marks: dict[Fraction, tuple[TempoMark, str]]) -> None:
        starts = bar_starts(tuple(meters))
        for bar, mark, (line, begin) in reader.tempos:
            at = starts[bar] + mark.offset
            new = TempoMark(at, mark.bpm, mark.gradual)
            before, part = marks.setdefault(at, (new, reader.tab.part))
            if before != new:
                what = f"tempo {mark.bpm} here, but {before.bpm} in {part}"
                self.report.add(line, begin + mark.begin + 1, what, hint="Write tempo marks in one part only")

    def _harmonies(self, parts: list[Part], meters: list[Meter], tuning: tuple[str, ...]) -> list[Part]:
        """The parts in the order of the file, harmonies among them."""
        names = [block.part for block in self.section.blocks if block.kind != "riff"]
        found: list[tuple[HarmonyPart, int]] = []
        for block in self.section.blocks:
            if block.kind != "harmony" or not block.part:
                continue
            instrument = self._instrument(block.part, tuning)
            harmony = read_harmony(block, names, meters, instrument, self.report)
            if harmony:
                found.append((harmony, block.line))
                drums = next((tab.drums for _, tab in self.tabs if tab.part == harmony.follows), False)
                if drums:
                    self.report.add(block.line, 0, f"{harmony.name} follows {harmony.follows}, which has no pitches")
        check_circles(found, self.report)
        every: list[Part] = [*parts, *(harmony for harmony, _ in found)]
        return sorted(every, key=lambda part: names.index(part.name))
