"""What the exercise file can say, taken from the tables it is read with, and what a text of it does say."""

import re
import string
import tomllib

from trainer.music.note import Attack, Force
from trainer.music.part import PedalNote
from trainer.notation import cell, front, harmony, harmony_options
from trainer.notation.bar import MARK_CHOICES
from trainer.notation.count import DOT, MARKS, TA
from trainer.notation.document import normal_lines, outline
from trainer.notation.read import read
from trainer.notation.report import Report
from trainer.notation.system import COUNT, ORDER, SIMILE, STRING_ROWS, System, read_systems

ROWS = [row for row in ORDER if row not in STRING_ROWS[7:]]
"""Rows that must be seen: strings up to a seventh; the eighth to the twelfth are written in the same way."""
KEYS = {
    "front matter": front.EXERCISE_KEYS,
    "riff": front.RIFF_KEYS,
    "tempo": front.TEMPO_KEYS,
    "parts": front.PART_KEYS,
    "ladder": front.LADDER_KEYS,
    "harmony": harmony.KEYS,
    "except": harmony.EXCEPT_KEYS,
}
CELL = cell.CELL


def choices(pattern: str) -> list[str]:
    """The single characters that a mark row's pattern allows."""
    return [char for char in string.printable if re.fullmatch(pattern, char)]


def possible() -> set[str]:
    """Everything the file can say."""
    found = {f"{table} key {key}" for table, keys in KEYS.items() for key in keys}
    found |= {f"row {row}" for row in ROWS}
    found |= {f"count {mark}" for mark in (*MARKS, TA, DOT)}
    found |= {f"cell {group}" for group in CELL.groupindex}
    found |= {f"attack {attack.value}" for attack in Attack}
    found |= {f"stroke {force.value}" for force in Force}
    found |= {f"{row} {mark}" for row, (pattern, _) in MARK_CHOICES.items() for mark in choices(pattern)}
    found |= {"a rest", "a simile bar", "a repeated system", "a tempo mark", "a gradual tempo", "a meter mark"}
    found |= {"a repeat in the form", "a plain tempo", "harmony above", "harmony below", "exact harmony"}
    found |= {"harmony by pedal", *(f"motion {motion}" for motion in harmony_options.MOTIONS)}
    return found


def said(text: str) -> set[str]:
    """What a text says."""
    document = outline(normal_lines(text), Report("exercise.md"))
    found = _front(tomllib.loads(document.front))
    exercise = read(text)
    found |= {"a repeat in the form" for step in exercise.form if step.times > 1}
    for section in document.sections:
        for block in section.blocks:
            if block.kind == "tab":
                report = Report("exercise.md")
                for system in read_systems(block.content, block.line + 1, block.indent, report):
                    found |= _system(system)
            else:
                found |= _table(block.kind, tomllib.loads(block.content))
    for riff in exercise.riffs:
        for part in riff.harmonies:
            distances = [part.distance, *(item.distance for item in part.exceptions)]
            for distance in distances:
                if isinstance(distance, PedalNote):
                    found.add("harmony by pedal")
                else:
                    found.add(f"harmony {'above' if distance.above else 'below'}")
                    found |= {"exact harmony"} if distance.exact else set()
            found.add(f"motion {'contrary' if part.contrary else 'parallel'}")
    return found


def _front(values: dict) -> set[str]:
    found = _table("front matter", values)
    for part in values.get("parts", {}).values():
        found |= _table("parts", part)
    return found | _table("ladder", values.get("ladder", {}))


def _table(name: str, values: dict) -> set[str]:
    found = {f"{name} key {key}" for key in values}
    for item in values.get("except", ()):
        found |= _table("except", item)
    tempo = values.get("tempo")
    if isinstance(tempo, dict):
        found |= _table("tempo", tempo)
    elif tempo is not None:
        found.add("a plain tempo")
    return found


def _system(system: System) -> set[str]:
    found = {f"row {label}" for label, row in system.rows.items() if any(text.strip(" -") for _, text in row.bars)}
    found |= {"a repeated system"} if system.times > 1 else set()
    for label, row in system.rows.items():
        for word in " ".join(text for _, text in row.bars).replace("-", " ").split():
            found |= {"a simile bar"} if word == SIMILE else _word(label, word, system.is_drums)
    return found


def _word(row: str, word: str, drums: bool) -> set[str]:
    if row == COUNT:
        return {f"count {word}"}
    if row in MARK_CHOICES:
        return {f"{row} {mark}" for mark in word}
    if row == "tempo":
        return {"a gradual tempo" if word.startswith(">") else "a tempo mark"}
    if row == "meter":
        return {"a meter mark"}
    if drums:
        return {f"stroke {word}"}
    if not row.isdigit():
        return set()
    if word == cell.REST:
        return {"a rest"}
    match = CELL.fullmatch(word)
    assert match, f"{word} in row {row}"
    found = {f"cell {group}" for group, text in match.groupdict().items() if text}
    return found | {f"attack {match['attack'] or ''}"}
