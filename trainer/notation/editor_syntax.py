"""The exercise file's syntax for editors, as a TextMate grammar made from the tables that the reader reads by.

`python -m trainer.notation.editor_syntax` prints it, and `exercises/exercise.tmLanguage.json` holds it. An editor
that knows such grammars (most do) colours counts, notes, marks and keys, and shows at once what is none.
"""

import json
import re
from collections.abc import Iterable
from typing import Any

from trainer.music.note import KIT
from trainer.notation import front, harmony
from trainer.notation.cell import CELL, REST
from trainer.notation.count import DOT, MARKS, TA
from trainer.notation.document import KINDS
from trainer.notation.system import COUNT, NOTE_MARKS, PLACE_MARKS, SIMILE, STRING_ROWS

Pattern = dict[str, Any]

FILE_TYPES = ("md",)
SCOPE = "text.html.markdown.exercise"
TOML_KEYS = {
    "front matter": (*front.EXERCISE_KEYS, *front.TEMPO_KEYS, *front.PART_KEYS, *front.LADDER_KEYS),
    "riff": (*front.RIFF_KEYS, *front.TEMPO_KEYS),
    "harmony": (*harmony.KEYS, *harmony.EXCEPT_KEYS),
}
"""The keys of each TOML text in the file."""

_NOT_IN_A_CELL = r"[^\s|\-]+"
_WHOLE = r"(?=[\s|\-]|$)"


def textmate_grammar() -> Pattern:
    """The grammar, as JSON holds it (https://macromates.com/manual/en/language_grammars)."""
    return {
        "name": "Twinspur exercise",
        "comment": "Made by `python -m trainer.notation.editor_syntax`; change that, not this file.",
        "scopeName": SCOPE,
        "fileTypes": list(FILE_TYPES),
        "firstLineMatch": r"^\+\+\+\s*$",
        "patterns": [
            {"include": "#front-matter"},
            *({"include": f"#{kind}-block"} for kind in KINDS),
            {"include": "#riff-heading"},
            {"include": "text.html.markdown"},
        ],
        "repository": {
            "front-matter": _toml(r"\A(\+\+\+)\s*$", r"^(\+\+\+)\s*$", "front matter"),
            "riff-block": _toml(r"^\s*(```)riff\s*$", r"^\s*(```)\s*$", "riff"),
            "harmony-block": _toml(r"^\s*(```)harmony\b(.*)$", r"^\s*(```)\s*$", "harmony"),
            "tab-block": {
                "begin": r"^\s*(```)tab\b(.*)$",
                "end": r"^\s*(```)\s*$",
                "beginCaptures": {"1": {"name": "punctuation.definition.block"}, "2": {"name": "entity.name.part"}},
                "endCaptures": {"1": {"name": "punctuation.definition.block"}},
                "name": "meta.block.tab",
                "patterns": [*_rows(), {"match": r"^\s*[^\s|][^|]*(?=\|)", "name": "invalid.illegal.row"}],
            },
            "riff-heading": {
                "match": r"^(##)\s+(.+)$",
                "captures": {"1": {"name": "punctuation.definition.heading"}, "2": {"name": "entity.name.section"}},
            },
            "toml-value": {
                "patterns": [
                    {"match": r"#.*$", "name": "comment.line"},
                    {"match": r'"(?:[^"\\]|\\.)*"', "name": "string.quoted.double"},
                    {"match": r"'[^']*'", "name": "string.quoted.single"},
                    {"match": r"[+-]?\b\d+(?:\.\d+)?\b", "name": "constant.numeric"},
                    {"match": r"\b(?:true|false)\b", "name": "constant.language"},
                ]
            },
        },
    }


def _toml(begin: str, end: str, where: str) -> Pattern:
    keys = _any_of(TOML_KEYS[where])
    scopes = ("punctuation.definition.block", "entity.name.part")[: re.compile(begin).groups]
    return {
        "begin": begin,
        "end": end,
        "beginCaptures": {str(number): {"name": scope} for number, scope in enumerate(scopes, 1)},
        "endCaptures": {"1": {"name": "punctuation.definition.block"}},
        "name": f"meta.block.{where.replace(' ', '-')}",
        "patterns": [
            {"match": r"^\s*\[[^\]]*\]\s*$", "name": "entity.name.table"},
            {"match": rf"\b(?:{keys})\b(?=\s*=)", "name": "variable.key"},
            {"match": r"[A-Za-z][\w.-]*(?=\s*=)", "name": "invalid.illegal.key"},
            {"include": "#toml-value"},
        ],
    }


def _rows() -> list[Pattern]:
    """A pattern for each kind of row: what may stand in its cells, and what is left over is no cell."""
    return [
        _row((COUNT,), "keyword.count", r"\d{1,2}|" + _any_of((*MARKS, TA, DOT)), "constant.numeric.count"),
        _row(STRING_ROWS, "keyword.string", f"{re.escape(REST)}|{_plain(CELL)}", "constant.other.note"),
        _row(tuple(reversed(KIT)), "keyword.kit", "[xXo]", "constant.other.hit"),
        _row(("accent",), "keyword.mark", r"[>^]", "constant.other.mark"),
        _row(("pick",), "keyword.mark", "[du]", "constant.other.mark"),
        _row(("finger",), "keyword.mark", "[1-4T]{1,6}", "constant.other.mark"),
        _row((*PLACE_MARKS, *NOTE_MARKS, "meter"), "keyword.mark", r"[^\s|]+", "string.unquoted.mark"),
    ]


def _row(labels: Iterable[str], label_scope: str, cell: str, cell_scope: str) -> Pattern:
    return {
        "begin": rf"^\s*({_any_of(labels)})\s*(?=\|)",
        "end": "$",
        "beginCaptures": {"1": {"name": label_scope}},
        "patterns": [
            {"match": r"\|\s*(x\d{1,9})\s*$", "captures": {"1": {"name": "keyword.repeat"}}},
            {"match": r"\|", "name": "punctuation.bar"},
            {"match": re.escape(SIMILE), "name": "keyword.simile"},
            {"match": rf"(?<![^\s|\-])(?:{cell}){_WHOLE}", "name": cell_scope},
            {"match": _NOT_IN_A_CELL, "name": "invalid.illegal.cell"},
        ],
    }


def _any_of(words: Iterable[str]) -> str:
    """A pattern for any of these words, the longest first."""
    return "|".join(re.escape(word) for word in sorted(words, key=lambda word: (-len(word), word)))


def _plain(pattern: "re.Pattern[str]") -> str:
    """A pattern without the names of its groups, which not every editor's engine writes as Python does."""
    return re.sub(r"\(\?P<\w+>", "(?:", pattern.pattern)


def grammar_text() -> str:
    """The grammar as the file holds it."""
    return json.dumps(textmate_grammar(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    import sys

    sys.stdout.write(grammar_text())
