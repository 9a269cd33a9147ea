"""The grammar for editors: it is current, finds nothing wrong in good files, and shows what is no note or key."""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.exercises.bundled import REFERENCE
from tests.exercises.test_reference import EXAMPLES
from trainer.notation.editor_syntax import grammar_text, textmate_grammar

BUNDLED = sorted(path for path in REFERENCE.parent.glob("*.md") if path != REFERENCE)
GRAMMAR = textmate_grammar()


@dataclass
class Editor:
    """What an editor does with the grammar: line by line, the first pattern that matches nearest to the left wins."""

    found: list[tuple[str, str]] = field(default_factory=list)
    """Scope and text of everything that was matched."""
    inside: list[dict[str, Any]] = field(default_factory=list)

    def read(self, text: str) -> list[tuple[str, str]]:
        for number, line in enumerate(text.splitlines()):
            self._line(line, first=number == 0)
        return self.found

    def _line(self, line: str, *, first: bool) -> None:
        at = 0
        while at <= len(line):
            best = None
            for rule in self._rules():
                pattern = rule.get("match") or rule["begin"]
                if pattern.startswith(r"\A") and not first:
                    continue
                match = re.compile(pattern.removeprefix(r"\A")).search(line, at)
                if match and (best is None or match.start() < best[0].start()):
                    best = (match, rule)
            if self.inside:
                end = re.compile(self.inside[-1]["end"]).search(line, at)
                if end and (best is None or end.start() <= best[0].start()):
                    self._capture(end, self.inside[-1].get("endCaptures", {}))
                    self.inside.pop()
                    at = max(end.end(), at)
                    if end.end() == end.start() == len(line):
                        return
                    continue
            if best is None:
                return
            match, rule = best
            self._capture(match, rule.get("captures") or rule.get("beginCaptures") or {})
            if "begin" in rule:
                self.inside.append(rule)
            elif "name" in rule:
                self.found.append((rule["name"], match[0]))
            at = match.end() if match.end() > match.start() or "begin" in rule else at + 1

    def _rules(self) -> list[dict[str, Any]]:
        rules = self.inside[-1].get("patterns", []) if self.inside else GRAMMAR["patterns"]
        flat: list[dict[str, Any]] = []
        for rule in rules:
            if "include" not in rule:
                flat.append(rule)
            elif rule["include"].startswith("#"):
                own = GRAMMAR["repository"][rule["include"][1:]]
                flat += [own] if "match" in own or "begin" in own else own["patterns"]
        return flat

    def _capture(self, match: "re.Match[str]", captures: dict[str, dict[str, str]]) -> None:
        self.found += [(each["name"], match[int(group)]) for group, each in captures.items() if match[int(group)]]


def wrong(text: str) -> list[str]:
    return [found for scope, found in Editor().read(text) if scope.startswith("invalid")]


def test_the_file_is_what_the_tables_say() -> None:
    assert (REFERENCE.parent / "exercise.tmLanguage.json").read_text("utf-8") == grammar_text()


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_nothing_is_wrong_in_a_bundled_exercise(path: Path) -> None:
    assert wrong(path.read_text("utf-8")) == []


def test_nothing_is_wrong_in_the_references_examples() -> None:
    assert [each for example in EXAMPLES for each in wrong(example)] == []


TAB = "+++\ntitle = 'T'\n+++\n\n## Low\n\n```tab guitar 1\ncount | 1 & 2 & |\n6     | {} |\npick  | d u     |\n```\n"


@pytest.mark.parametrize("cell", ["7", "x", "r", "h7", r"\5", "7b9r7~.", "<12>", "0 - 3", "10"])
def test_a_note_is_shown_as_one(cell: str) -> None:
    found = Editor().read(TAB.format(cell))
    assert [text for scope, text in found if scope == "constant.other.note"] == [c for c in cell.split() if c != "-"]
    assert ("keyword.string", "6") in found and ("entity.name.section", "Low") in found


@pytest.mark.parametrize("cell", ["7h8", "07", "00", "z", "7~~", "(7)", "h", "<12"])
def test_what_is_no_note_is_shown_at_once(cell: str) -> None:
    assert wrong(TAB.format(cell)) == [cell]


@pytest.mark.parametrize(
    ("old", "new", "shown"),
    [
        ("title =", "titel =", "titel"),
        ("pick  |", "pikc  |", "pikc  "),
        ("| d u", "| d v", "v"),
        ("1 & 2 &", "1 x 2 &", "x"),
    ],
)
def test_so_are_keys_rows_counts_and_marks(old: str, new: str, shown: str) -> None:
    assert wrong(TAB.format("7").replace(old, new)) == [shown]
