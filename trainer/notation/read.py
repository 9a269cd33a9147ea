"""Reading an exercise file: text in, an exercise or every problem out."""

import re
from collections.abc import Collection, Sequence
from fractions import Fraction
from pathlib import PurePath

from trainer.music.exercise import Exercise
from trainer.music.instrument import Instrument
from trainer.music.meter import Meter
from trainer.music.part import HarmonyPart, Part
from trainer.music.pitch import Pitch
from trainer.music.printable import is_printable, printable
from trainer.music.problem import nearest
from trainer.music.riff import Riff, bar_starts
from trainer.music.tempo import TempoMark
from trainer.notation.document import Block, Section, normal_lines, outline
from trainer.notation.front import (
    MOST_TIMES,
    RIFF_KEYS,
    Front,
    read_front,
    read_key,
    read_meter,
    read_tempo,
    read_tuning,
)
from trainer.notation.harmony import check_circles, read_harmony
from trainer.notation.likely import likely_step
from trainer.notation.report import Report
from trainer.notation.tab import MOST_BARS, TabReader, WrittenTab, meters_of, written
from trainer.notation.toml_table import Table, read_table

_BARS = re.compile(r"(?P<first>\d{1,5})(?:\s*-\s*(?P<last>\d{1,5}))?(?:\s*x(?P<times>\d{1,3}))?")
MOST_FORM_BARS = 10_000
"""Bars in a whole form, written out: five hours of playing at 120 bpm."""
MOST_NAME = 100
"""Characters in the name of a riff or a part."""
MOST_NAMES = 500
"""Characters of a list of names in a message."""
NEAR_NAME = 0.7
"""How alike, from 0 to 1, a part's name must be to a usual one to be a slip of it."""
USUAL_PARTS = ("guitar", "bass", "drums")
"""Words with which parts are usually named."""


def default_id(file: str) -> str:
    """The id of a file that gives none: its name without ending."""
    return printable(PurePath(file).stem) or "exercise"


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
        elif len(section.name) > MOST_NAME:
            what = f"a riff's name of {len(section.name):,} characters"
            report.add(section.line, 4, what, f"at most {MOST_NAME}")
            section.name = section.name[:MOST_NAME]
        if section.name in names:
            what = f'two riffs are called "{section.name}" (the first in line {names[section.name]})'
            report.add(section.line, 4, what, hint="Give one another name")
        names.setdefault(section.name, section.line)
        riff = _RiffReader(section, front, report).read()
        if riff:
            riffs.append(riff)
    if not document.sections:
        report.add(document.front_line, 0, "no riff", hint="Begin one with ## and its name, then a tab block")
    _check_form(table, front, names)
    _check_part_names(document.sections, report)
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
    lengths = {riff.name: len(riff.meters) for riff in exercise.riffs}
    bars = sum(step.times * lengths[step.riff] for step in exercise.form) or sum(lengths.values())
    if bars > MOST_FORM_BARS:
        hint = "Play its riffs fewer times, or divide it into several exercises"
        table.problem("form", f"the form has {bars:,} bars, repeats written out", f"at most {MOST_FORM_BARS:,}", hint)
    for name in (settings.name for settings in front.parts):
        meant = nearest(name, exercise.part_names) if name not in exercise.part_names else ""
        if meant:
            table.table("parts").problem(name, f'no riff has a part "{name}"', "", f'Did you mean "{meant}"')
    report.stop_if_any()
    return exercise


def _check_form(table: Table, front: Front, names: Collection[str]) -> None:
    """Report steps of the form that name no riff, each at its own place."""
    for number, step in enumerate(front.form):
        if table.report.full:
            return
        if step.riff not in names:
            meant = likely_step(step.riff + (f" x{step.times}" if step.times > 1 else ""), names)
            hint = f'Did you mean "{meant}"' if meant else ""
            what = f'riff "{step.riff[:MOST_NAME]}" is not in this file'
            table.problem("form", what, ", ".join(names)[:MOST_NAMES], hint, item=number)


def _check_part_names(sections: Sequence[Section], report: Report) -> None:
    """Report parts whose names differ in case alone, and names that are a slip of a usual one."""
    first: dict[str, tuple[str, int]] = {}
    for section in sections:
        for block in section.blocks:
            if block.kind == "riff" or not block.part:
                continue
            name, line = first.setdefault(block.part.casefold(), (block.part, block.line))
            if name != block.part:
                what = f'part "{block.part}" here, "{name}" in line {line}'
                report.add(block.line, 0, what, hint=f'Write "{name}" in both')
            word, _, number = block.part.casefold().partition(" ")
            if word in USUAL_PARTS or len(word) < 4:
                continue
            from difflib import SequenceMatcher  # files with the usual names need not wait for it

            usual = nearest(word, USUAL_PARTS)
            if (
                usual
                and SequenceMatcher(None, word, usual).ratio() >= NEAR_NAME
                and not (word.startswith(usual) or usual.startswith(word))
            ):
                meant = f"{usual} {number}".strip()
                report.add(block.line, 0, f'a part "{block.part}"', hint=f'Did you mean "{meant}"')


def read_order(table: Table, bars: int) -> tuple[int, ...]:
    """The `order` of a riff block: the numbers, from 1, of its bars as they are played; empty where none is given.

    Args:
        table: the block.
        bars: how many bars are written, repeats of systems counted.
    """
    text = table.get("order", str, "")
    found: list[int] = []
    for piece in text.split(",") if text else ():
        match = _BARS.fullmatch(piece.strip())
        first, last = (int(match["first"]), int(match["last"] or match["first"])) if match else (0, 0)
        times = int(match["times"] or 1) if match else 1
        if not 1 <= first <= last <= bars or not 1 <= times <= MOST_TIMES:
            allowed = f'bars from 1 to {bars}, such as "1-4, 1-3, 5"'
            table.problem("order", f'"{piece.strip()}" names no bars of this riff', allowed)
            return ()
        found += list(range(first, last + 1)) * times
        if len(found) > MOST_BARS:
            table.problem("order", f"more than {MOST_BARS:,} bars", hint="Divide it into riffs and a form")
            return ()
    never = next((number for number in range(1, bars + 1) if found and number not in found), None)
    if never is not None:
        table.problem("order", f"bar {never} is never played", hint="Put it into the order, or take the bar out")
        return ()
    return tuple(found)


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
        if not self.tabs and not section.sound:
            return None
        if not self.tabs:
            hint = "Write a tab block, or use ### for a heading inside the text"
            report.add(section.line, 0, f'riff "{section.name}" has no tab', hint=hint)
            return None
        meters = self._meters(read_meter(table, front.meter))
        order = read_order(table, len(meters))
        if order:
            meters = [meters[number - 1] for number in order]
            for _, tab in self.tabs:
                tab.put_in_order(order)
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
            order=tuple(number - 1 for number in order),
        )

    def _written(self) -> None:
        names: set[str] = set()
        for block in self.section.blocks:
            if block.kind == "riff":
                continue
            if len(block.part) > MOST_NAME:
                what = f"a part's name of {len(block.part):,} characters"
                self.report.add(block.line, 0, what, f"at most {MOST_NAME}")
            elif not block.part or not is_printable(block.part):
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
