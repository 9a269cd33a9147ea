"""One patch file: TOML text to patches, click patterns and default patches, with every mistake located."""

import re
import tomllib
from dataclasses import dataclass, field
from fractions import Fraction

from trainer.music.problem import Problem
from trainer.sounds.articulation import Articulation
from trainer.sounds.checked_table import CheckedTable, FileProblems
from trainer.sounds.click_pattern import ClickPattern, ClickStroke, Follows
from trainer.sounds.dynamics import Weight
from trainer.sounds.kit import CLICK_PIECES, KIT_PIECES, Kit, KitPiece
from trainer.sounds.patch import Patch, Preset, Role
from trainer.sounds.shown import shown

_PATCH_KEYS = ("role", "about", "level", "pan", "like", "sounds", "kit", "strokes")
_PRESET_KEYS = ("bank", "program", "transpose", "velocity", "level")
_PATTERN_KEYS = ("about", "length", "strokes", "quiet", "accents", "accent_first", "follows")
_PIECE_KEYS = ("key", "accent", "ghost")
_VELOCITIES = {Weight.STRONG: 124, Weight.ACCENT: 112, Weight.PLAIN: 96, Weight.GHOST: 44}
_PIECES = {Role.DRUMS: KIT_PIECES, Role.CLICK: CLICK_PIECES}
_SILENT = Preset(0, 0)


@dataclass(slots=True)
class PatchFile:
    """What one file defines."""

    patches: dict[str, Patch] = field(default_factory=dict)
    click_patterns: dict[str, ClickPattern] = field(default_factory=dict)
    defaults: dict[str, str] = field(default_factory=dict)
    problems: FileProblems = field(default_factory=lambda: FileProblems("", ""))


def read_patch_file(file: str, text: str, known: dict[str, Patch]) -> PatchFile:
    """Read one file's text; `known` holds the patches a `like` may name besides the file's own.

    Never raises for what the text says: mistakes are in `problems.found`. Sections are `[patch.NAME]`, `[click.NAME]`
    and `[parts]` (part name = patch name).
    """
    read = PatchFile(problems=FileProblems(file, text))
    try:
        content: dict[str, object] = tomllib.loads(text)
    except ValueError as error:  # also for a number of more digits than Python reads
        read.problems.found.append(_invalid_toml(file, text, error))
        return read
    except RecursionError:
        read.problems.found.append(Problem(file, 0, 0, "the tables and lists are nested too deeply"))
        return read
    root = CheckedTable(read.problems, (), content)
    root.only(("patch", "click", "parts"))
    for name, table in root.tables("patch"):
        read.patches[name] = _patch(name, table, {**known, **read.patches})
    for name, table in root.tables("click"):
        read.click_patterns[name] = _click_pattern(name, table)
    parts = root.table("parts")
    for part in parts.keys():  # noqa: SIM118 - a table of ours, in the file's order
        if name := parts.text(part):
            read.defaults[part] = name
    return read


def _invalid_toml(file: str, text: str, error: ValueError) -> Problem:
    if not isinstance(error, tomllib.TOMLDecodeError):
        long = re.search(r"[0-9_]{4000,}", text)
        before = text[: long.start()] if long else ""
        line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
        return Problem(file, line, column, "this number is too long to be read")
    message = str(error)
    what, _, place = message.partition(" (at ")
    words = place.rstrip(")").replace(",", "").split()
    if len(words) == 4 and words[1].isdigit() and words[3].isdigit():
        line, column = int(words[1]), int(words[3])
    else:
        line, column = max(1, len(text.splitlines())), 0
    return Problem(file, line, column, f"this is not TOML: {shown(what)}")


def _patch(name: str, table: CheckedTable, known: dict[str, Patch]) -> Patch:
    table.only(_PATCH_KEYS)
    base = known.get(table.word("like", tuple(known), "", "patch")) if "like" in table else None
    role = Role(table.word("role", tuple(Role), base.role if base else Role.GUITAR))
    if "like" not in table and "role" not in table:
        table.add("", f'the patch "{shown(name)}" has no role', "role = " + ", ".join(Role))
    sounds = {**dict(base.sounds), **_sounds(table)} if base else _sounds(table)
    if Articulation.OPEN not in sounds and "like" in table:
        sounds[Articulation.OPEN] = _SILENT
    elif Articulation.OPEN not in sounds:
        hint = 'Write under [patch."NAME".sounds]: open = { program = 30 }'
        table.add("sounds" if "sounds" in table else "", f'the patch "{shown(name)}" has no open sound', hint=hint)
        sounds[Articulation.OPEN] = _SILENT
    return Patch(
        name,
        role,
        tuple((articulation, sounds[articulation]) for articulation in Articulation if articulation in sounds),
        table.number("level", -60, 12, base.level_db if base else 0.0),
        table.number("pan", -1, 1, base.pan if base else 0.0),
        _kit(table, role, base.kit if base else None),
        table.text("about", base.about if base else ""),
    )


def _sounds(table: CheckedTable) -> dict[Articulation, Preset]:
    inner = table.table("sounds")
    inner.only(tuple(Articulation))
    return {each: _preset(inner.table(each)) for each in Articulation if each in inner}


def _preset(table: CheckedTable) -> Preset:
    table.only(_PRESET_KEYS)
    return Preset(
        table.whole("bank", 0, 16383, 0),
        table.whole("program", 0, 127, None),
        table.whole("transpose", -48, 48, 0),
        table.whole("velocity", -126, 126, 0),
        table.number("level", -60, 12, 0.0),
    )


def _kit(table: CheckedTable, role: Role, base: Kit | None) -> Kit | None:
    pieces_of_role = _PIECES.get(role, ())
    if not pieces_of_role:
        for key in ("kit", "strokes"):
            if key in table:
                table.add(key, f'a patch for {role} has no "{key}"', "it for drums and click only")
        return None
    pieces, strokes = table.table("kit"), table.table("strokes")
    pieces.only(pieces_of_role)
    strokes.only(tuple(Weight))
    found = {piece.name: piece for piece in base.pieces} if base else {}
    found |= {name: _piece(pieces, name) for name in pieces_of_role if name in pieces}
    if missing := [name for name in pieces_of_role if name not in found]:
        listed = ", ".join(f'"{name}"' for name in missing)
        table.add("kit" if "kit" in table else "", f"the kit has no key for {listed}", "a key from 0 to 127 for each")
    velocities = _VELOCITIES | (dict(base.velocities) if base else {})
    return Kit(
        tuple(found[name] for name in pieces_of_role if name in found),
        tuple((weight, strokes.whole(weight, 1, 127, velocities[weight])) for weight in Weight),
    )


def _piece(table: CheckedTable, name: str) -> KitPiece:
    if not table.is_table(name):
        return KitPiece(name, table.whole(name, 0, 127, None))
    inner = table.table(name)
    inner.only(_PIECE_KEYS)
    accent, ghost = (inner.whole(key, 0, 127, None) if key in inner else None for key in ("accent", "ghost"))
    return KitPiece(name, inner.whole("key", 0, 127, None), accent, ghost)


def _click_pattern(name: str, table: CheckedTable) -> ClickPattern:
    table.only(_PATTERN_KEYS)
    follows = Follows(table.word("follows", tuple(Follows), Follows.NOTHING))
    length = table.fraction("length", Fraction(1))
    if length <= 0:
        table.add("length", "a pattern cannot have no length", 'a fraction of a pulse over 0, such as "1"')
        length = Fraction(1)
    strokes = dict.fromkeys(table.fractions("strokes"), Weight.PLAIN)
    for key, weight in (("quiet", Weight.GHOST), ("accents", Weight.ACCENT)):
        strokes |= dict.fromkeys(table.fractions(key), weight)
    if not strokes and follows is Follows.NOTHING:
        table.add("", f'the click pattern "{shown(name)}" has no strokes', 'strokes = ["0", "1/2"] in pulses')
    late = [at for at in strokes if at >= length]
    if late:
        table.add("strokes", f'a stroke at "{late[0]}" is outside the pattern', f'0 up to its length, "{length}"')
    return ClickPattern(
        name,
        length,
        tuple(ClickStroke(at, strokes[at]) for at in sorted(strokes) if at < length),
        table.flag("accent_first", True),
        follows,
        table.text("about"),
    )
