"""The front matter and the riff block: what an exercise and its riffs say of themselves in TOML."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.music.exercise import COMMON_TIME, LADDER_BOUNDS, FormStep, LadderSettings
from trainer.music.instrument import BASS, MAX_FRETS, MAX_STRINGS, STANDARD
from trainer.music.key import MODES, Key
from trainer.music.meter import Meter
from trainer.music.part import PartSettings
from trainer.music.pitch import Pitch
from trainer.music.problem import nearest
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM, Tempo
from trainer.notation.likely import likely_key
from trainer.notation.toml_table import Table

EXERCISE_KEYS = (
    *("title", "id", "by", "licence", "tags", "key", "meter", "tempo", "tuning"),
    *("form", "parts", "ladder"),
)
RIFF_KEYS = ("key", "meter", "tempo", "tuning", "order")
TEMPO_KEYS = ("start", "target")
PART_KEYS = ("patch", "tuning", "capo", "frets", "level", "pan")
LADDER_KEYS = ("step", "passes", "miss", "beyond")

DEFAULT_KEY = Key(Pitch.parse("E2").name, "aeolian")
DEFAULT_TEMPO = Tempo(Fraction(80), Fraction(120))
"""Where a file names neither: the open strings' own minor, and a walking pace. House rules."""

_ID = re.compile(r"[a-z0-9](?:[a-z0-9-]*[a-z0-9])?")
_STEP = re.compile(r"\d{1,3}(\.\d{1,2})?%?")
_TIMES = re.compile(r"(.*\S)\s+x(\d{1,9})")
MOST_TIMES = 99
"""Times one step of a form may be played."""


@dataclass(slots=True)
class Front:
    """What the front matter says."""

    id: str
    title: str
    by: str
    licence: str
    tags: tuple[str, ...]
    key: Key
    meter: Meter
    tempo: Tempo
    tuning: tuple[str, ...]
    form: tuple[FormStep, ...]
    parts: tuple[PartSettings, ...]
    ladder: LadderSettings

    def settings(self, part: str) -> PartSettings:
        """What is said of a part."""
        return next((settings for settings in self.parts if settings.name == part), PartSettings(part))

    def tuning_of(self, part: str, riff_tuning: tuple[str, ...]) -> tuple[str, ...]:
        """The part's own tuning, else a bass's, else the riff's, else the exercise's."""
        own = self.settings(part).tuning
        return own or (BASS if part.startswith("bass") else riff_tuning or self.tuning)


def read_front(table: Table, default_id: str, patches: Collection[str] | None) -> Front:
    """Read the front matter; what is wrong is reported, and a default stands in its place.

    Args:
        table: the TOML.
        default_id: the id where the file gives none.
        patches: the names of known patches; None leaves them unchecked.
    """
    table.check_keys(EXERCISE_KEYS, "the front matter")
    title = table.get("title", str, "")
    if not title.strip() and table.sound and not (table.report.problems and "title" in table.values):
        table.problem("title", "the title is missing", hint='Write title = "…" between the +++ lines')
    own_id = table.get("id", str, default_id)
    if "id" in table.values and not _ID.fullmatch(own_id):
        table.problem("id", f'id "{own_id}" is not an id', "small letters, digits and hyphens")
    return Front(
        id=own_id,
        title=" ".join(title.split()),
        by=table.get("by", str, ""),
        licence=table.get("licence", str, ""),
        tags=table.texts("tags"),
        key=read_key(table, DEFAULT_KEY),
        meter=read_meter(table, COMMON_TIME),
        tempo=read_tempo(table, DEFAULT_TEMPO),
        tuning=read_tuning(table) or STANDARD,
        form=_form(table),
        parts=tuple(_part(name, inner, patches) for name, inner in table.tables("parts")),
        ladder=_ladder(table.table("ladder")),
    )


def read_key(table: Table, default: Key) -> Key:
    """The `key` of a table."""
    return table.parse("key", Key.parse, default, f"a note and one of: {', '.join(MODES)}", likely_key)


def read_meter(table: Table, default: Meter) -> Meter:
    """The `meter` of a table."""
    return table.parse("meter", Meter.parse, default, "1 to 32 counts of 1, 2, 4, 8, 16 or 32, such as 7/8")


def read_tempo(table: Table, default: Tempo) -> Tempo:
    """The `tempo` of a table: a number, or `{ start, target }`."""
    value = table.values.get("tempo")
    if isinstance(value, dict):
        inner = table.table("tempo")
        inner.check_keys(TEMPO_KEYS, "tempo")
        target = inner.number("target", SLOWEST_BPM, FASTEST_BPM, None)
        start = inner.number("start", SLOWEST_BPM, FASTEST_BPM, target)
        if target is None:
            if "target" not in value:
                table.problem("tempo", "tempo has no target", hint="Write tempo = { start = 92, target = 168 }")
            return default
        if start > target:
            table.problem("tempo", f"tempo starts at {start}, above its target {target}")
            return default
        return Tempo(Fraction(str(start)), Fraction(str(target)))
    bpm = table.number("tempo", SLOWEST_BPM, FASTEST_BPM, None)
    return default if bpm is None else Tempo(Fraction(str(bpm)), Fraction(str(bpm)))


def read_tuning(table: Table) -> tuple[str, ...]:
    """The `tuning` of a table: open strings, low to high; empty where none is given."""
    text = table.get("tuning", str, "")
    names = tuple(text.split())
    for name in names:
        try:
            pitch = Pitch.parse(name)
        except ValueError:
            table.problem("tuning", f'"{name}" is not a pitch', "a note and its octave, low to high: E2 A2 D3 G3 B3 E4")
            return ()
        if not 12 <= pitch.midi <= 100:
            table.problem("tuning", f"a string tuned to {name} does not exist", "C0 to E7")
            return ()
    if len(names) > MAX_STRINGS:
        table.problem("tuning", f"{len(names)} strings", f"at most {MAX_STRINGS}")
        return ()
    pitches = [Pitch.parse(name) for name in names]
    if len(names) > 2 and all(low.midi > high.midi for low, high in pairwise(pitches)):
        low_to_high = " ".join(reversed(names))
        table.problem("tuning", "a tuning written from high to low", "low to high", f'Write "{low_to_high}"')
        return ()
    return tuple(str(pitch) for pitch in pitches)


def _form(table: Table) -> tuple[FormStep, ...]:
    steps = []
    for number, text in enumerate(table.texts("form")):
        found = _TIMES.fullmatch(text.strip())
        times = int(found[2]) if found else 1
        if not 1 <= times <= MOST_TIMES:
            table.problem("form", f'"{text}" repeats {times} times', f"x1 to x{MOST_TIMES}", item=number)
            times = 1
        steps.append(FormStep(" ".join((found[1] if found else text).split()), times))
    return tuple(steps)


def _part(name: str, table: Table, patches: Collection[str] | None) -> PartSettings:
    table.check_keys(PART_KEYS, f'[parts."{name}"]')
    patch = table.get("patch", str, "")
    if patch and patches is not None and patch not in patches:
        meant = nearest(patch, patches)
        hint = f'Did you mean "{meant}"' if meant else ""
        table.problem("patch", f'patch "{patch}" is not known', ", ".join(sorted(patches)), hint)
    frets = table.number("frets", 1, MAX_FRETS, 24, whole=True)
    return PartSettings(
        name=" ".join(name.split()),
        patch=patch,
        tuning=read_tuning(table),
        capo=table.number("capo", 0, min(12, frets - 1), 0, whole=True),
        frets=frets,
        level_db=float(table.number("level", -60, 12, 0.0)),
        pan=table.number("pan", -1, 1, None),
    )


def _ladder(table: Table) -> LadderSettings:
    table.check_keys(LADDER_KEYS, "[ladder]")
    texts = {}
    for key, written in (("step", 'bpm such as "4", or per cent such as "3%"'), ("beyond", 'per cent such as "3%"')):
        low, high = LADDER_BOUNDS[key]
        value = table.values.get(key, "")
        text = str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value
        if not isinstance(text, str) or (
            text and not (_STEP.fullmatch(text) and low <= float(text.rstrip("%")) <= high)
        ):
            table.problem(key, f'"{key}" cannot be {value!r}', f"{written}, {low:g} to {high:g}")
            text = ""
        texts[key] = text
    return LadderSettings(
        step=texts["step"],
        passes=table.number("passes", *LADDER_BOUNDS["passes"], None, whole=True),
        miss=table.number("miss", *LADDER_BOUNDS["miss"], None, whole=True),
        beyond=texts["beyond"],
    )
