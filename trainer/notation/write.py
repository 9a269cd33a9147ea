"""Writing an exercise as a file that reads back as the same exercise."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from trainer.music.exercise import COMMON_TIME, Exercise
from trainer.music.instrument import STANDARD
from trainer.music.meter import Meter
from trainer.music.note import KIT, DrumMoment, Moment, Note
from trainer.music.part import DrumPart, HarmonyPart, PartSettings, TabPart
from trainer.music.riff import Riff
from trainer.music.tempo import Tempo, TempoMark
from trainer.notation.cell import REST, write_cell
from trainer.notation.count import count_name, write_counts
from trainer.notation.harmony_options import option_values
from trainer.notation.layout import GridBar, draw_system

WIDTH = 100
"""Characters a system is wide at most, where one bar is not wider already."""


def write(exercise: Exercise) -> str:
    """The text of an exercise file.

    Raises:
        ValueError: for music that the count row cannot say (finer than thirty-seconds or sextuplets).
    """
    pieces = ["+++\n" + front_text(exercise) + "+++\n"]
    if exercise.prose:
        pieces.append(exercise.prose + "\n")
    for riff in exercise.riffs:
        pieces += _riff(riff, exercise)
    return "\n".join(pieces)


def number(value: Fraction | float) -> int | float:
    """A number as TOML writes it best: whole where it is whole."""
    return int(value) if value == int(value) else float(value)


def _tempo(tempo: Tempo) -> Any:
    if tempo.start == tempo.target:
        return number(tempo.target)
    return {"start": number(tempo.start), "target": number(tempo.target)}


def _toml(values: dict[str, Any]) -> str:
    """TOML text with tables of one line for tables inside values."""
    import tomlkit

    document = tomlkit.document()
    for key, value in values.items():
        if isinstance(value, dict) and key not in ("parts", "ladder"):
            inline = tomlkit.inline_table()
            inline.update(value)
            document.add(key, inline)
        elif key == "except":
            array = tomlkit.array()
            for item in value:
                inline = tomlkit.inline_table()
                inline.update(item)
                array.append(inline)
            document.add(key, array)
        else:
            document.add(key, tomlkit.item(value))
    return tomlkit.dumps(document)


def front_text(exercise: Exercise) -> str:
    """The TOML of an exercise's front matter."""
    form = [step.riff if step.times == 1 else f"{step.riff} x{step.times}" for step in exercise.form]
    ladder = exercise.ladder
    values = {
        "title": exercise.title,
        "id": exercise.id,
        "by": exercise.by,
        "licence": exercise.licence,
        "tags": list(exercise.tags),
        "key": str(exercise.key),
        "meter": "" if exercise.meter == COMMON_TIME else str(exercise.meter),
        "tempo": _tempo(exercise.tempo),
        "tuning": "" if exercise.tuning == STANDARD else " ".join(exercise.tuning),
        "form": form,
        "parts": {settings.name: _settings(settings) for settings in exercise.parts},
        "ladder": {
            key: value
            for key, value in (
                ("step", ladder.step),
                ("passes", ladder.passes),
                ("miss", ladder.miss),
                ("beyond", ladder.beyond),
            )
            if value not in ("", None)
        },
    }
    return _toml({key: value for key, value in values.items() if value or key == "title"})


def _settings(settings: PartSettings) -> dict[str, Any]:
    values = {
        "patch": settings.patch or None,
        "tuning": " ".join(settings.tuning) or None,
        "capo": settings.capo or None,
        "frets": settings.frets if settings.frets != 24 else None,
        "level": number(settings.level_db) if settings.level_db else None,
        "pan": number(settings.pan) if settings.pan is not None else None,
    }
    return {key: value for key, value in values.items() if value is not None}


def _riff(riff: Riff, exercise: Exercise) -> list[str]:
    pieces = [f"## {riff.name}\n"]
    if riff.prose:
        pieces.append(riff.prose + "\n")
    own = {
        "key": str(riff.key) if riff.key != exercise.key else "",
        "meter": str(riff.meters[0]) if riff.meters[0] != exercise.meter else "",
        "tempo": _tempo(riff.tempo) if riff.tempo != exercise.tempo else "",
        "tuning": " ".join(riff.tuning),
    }
    own = {key: value for key, value in own.items() if value}
    if own:
        pieces.append("```riff\n" + _toml(own) + "```\n")
    first = next((part for part in riff.parts if not isinstance(part, HarmonyPart)), None)
    for part in riff.parts:
        if isinstance(part, HarmonyPart):
            pieces.append(f"```harmony {part.name}\n" + harmony_text(part, riff) + "```\n")
        else:
            marks = riff.tempo_marks if part is first else ()
            pieces.append(f"```tab {part.name}\n" + "\n".join(tab_lines(part, riff, marks)) + "\n```\n")
    return pieces


def harmony_text(part: HarmonyPart, riff: Riff) -> str:
    """The TOML of a harmony block."""
    values: dict[str, Any] = {"follows": part.follows, "interval": str(part.distance)}
    if part.exceptions:
        values["except"] = [
            {
                "bar": item.bar,
                "count": count_name(item.offset, riff.meters[item.bar - 1]),
                "interval": str(item.distance),
            }
            for item in part.exceptions
        ]
    if part.near is not None:
        values["near"] = part.near
    return _toml(values | option_values(part))


def in_written_order(part: TabPart, riff: Riff) -> TabPart:
    """The part with every bar that comes again as it is the first time, so that it can be written once."""
    first = _first_times(riff)
    return replace(part, bars=tuple(part.bars[first[number]] for number in riff.order)) if riff.order else part


def block_lines(part: TabPart, riff: Riff, marks: tuple[TempoMark, ...] = ()) -> list[str]:
    """The lines of a tab block as they stand in the riff's file: bars that its `order` plays again are written once.

    Args:
        part: the part; bars that come again are written as they are the first time.
        riff: its riff.
        marks: the riff's tempo marks, where this part writes them.
    """
    if not riff.order:
        return tab_lines(part, riff, marks)
    first, starts = _first_times(riff), riff.bar_starts
    once = replace(riff, meters=tuple(riff.meters[index] for index in first), order=())
    moved = tuple(
        replace(mark, at=mark.at - starts[index] + at)
        for index, at in zip(first, once.bar_starts, strict=False)
        for mark in marks
        if starts[index] <= mark.at < starts[index + 1]
    )
    return tab_lines(replace(part, bars=tuple(part.bars[index] for index in first)), once, moved)


def _first_times(riff: Riff) -> list[int]:
    """For each written bar of a riff with an order the index of the bar that plays it first."""
    return [riff.order.index(number) for number in range(max(riff.order, default=-1) + 1)]


def tab_lines(part: TabPart | DrumPart, riff: Riff, marks: tuple[TempoMark, ...] = (), width: int = WIDTH) -> list[str]:
    """The lines of a tab block: systems of as many bars as the width allows, one at least."""
    starts = riff.bar_starts
    systems: list[list[GridBar]] = [[]]
    first_of_system = 0
    played: Sequence[Sequence[Moment | DrumMoment]] = part.bars
    for index, bar in enumerate(played):
        meter = riff.meters[index]
        changes = index > 0 and meter != riff.meters[index - 1]
        inside = {m.at - starts[index]: m for m in marks if starts[index] <= m.at < starts[index + 1]}
        same = index > first_of_system and played[index - 1] == bar and not changes and not inside
        grid = GridBar((), {}) if same else _grid(bar, meter, inside, changes)
        if systems[-1] and len(draw_system([*systems[-1], grid], _rows([*systems[-1], grid]))[0]) > width:
            systems.append([])
            first_of_system = index
            grid = _grid(bar, meter, inside, changes)
        systems[-1].append(grid)
    lines: list[str] = []
    for bars in systems:
        lines += [""] if lines else []
        rows = _rows(bars)
        if not any(row.isdigit() or row in KIT for row in rows):
            # A system in which nothing starts still says whose it is.
            rows.append(KIT[0] if isinstance(part, DrumPart) else "1")
        lines += draw_system(bars, rows)
    return lines


def _rows(bars: list[GridBar]) -> list[str]:
    return list(dict.fromkeys(label for bar in bars for label in bar.cells))


def _grid(
    bar: Sequence[Moment | DrumMoment], meter: Meter, tempos: dict[Fraction, TempoMark], changes: bool
) -> GridBar:
    marks = write_counts(frozenset({moment.offset for moment in bar} | set(tempos)), meter)
    column = {offset: i for i, (_, offset) in enumerate(marks)}
    cells: dict[str, dict[int, str]] = {}

    def put(row: str, offset: Fraction, text: str) -> None:
        if text:
            cells.setdefault(row, {})[column[offset]] = text

    if changes:
        put("meter", Fraction(0), str(meter))
    for offset, mark in tempos.items():
        put("tempo", offset, (">" if mark.gradual else "") + str(number(mark.bpm)))
    for moment in bar:
        if isinstance(moment, DrumMoment):
            for hit in moment.hits:
                put(hit.piece, moment.offset, hit.force.value)
            continue
        for note in moment.notes:
            put(str(note.string), moment.offset, write_cell(note))
        if moment.rest:
            put("1", moment.offset, REST)
        put("accent", moment.offset, moment.accent)
        put("mute", moment.offset, "=" if moment.mute else "")
        put("ring", moment.offset, "=" if moment.ring else "")
        put("pick", moment.offset, moment.pick)
        put("finger", moment.offset, _fingers(moment.notes))
        put("chord", moment.offset, moment.chord)
    return GridBar(tuple(mark for mark, _ in marks), cells)


def _fingers(notes: tuple[Note, ...]) -> str:
    fingers = [note.finger for note in reversed(notes) if note.fret > 0]
    if not any(fingers):
        return ""
    return fingers[0] if len(set(fingers)) == 1 else "".join(fingers)
