"""TOML that cannot be read: the slips that people make in front matter, told as what they are, with their place."""

import re
import tomllib

MOST_CHARACTERS = 64 * 1024
"""Characters of one TOML text of an exercise; the longest bundled front matter has 600."""
MOST_LEVELS = 8
"""Names in one dotted key; a few thousand take a parser minutes."""

_AT = re.compile(r"\(at line (\d+), column (\d+)\)")
_CURLY = re.compile("[\u201c\u201d\u201e\u201f\u2018\u2019\u00ab\u00bb]")
_SPACED = re.compile(r"\s*\[\s*([\w-]+)\s*\.\s*([\w-]+(?: +[\w-]+)+)\s*\]")
_DOTTED = re.compile(r"[^\"'#={}\]]*(?=[=\]])")

Slip = tuple[int, int, str, str]
"""A line and a column of the text, both from 1 (column 0: the whole line); what is wrong; what to do."""


def bounds_slip(text: str) -> Slip | None:
    """What a text asks too much of, before it is parsed; None for a bearable one."""
    if len(text) > MOST_CHARACTERS:
        what = f"{len(text):,} characters of settings: at most {MOST_CHARACTERS:,} are read"
        return (1, 0, what, "Keep prose and music outside")
    for number, line in enumerate(text.split("\n"), 1):
        key = _DOTTED.match(line)
        if key and key[0].count(".") >= MOST_LEVELS:
            what = f"a key of {key[0].count('.') + 1} names"
            return (number, 1, what, 'Write: key = "value"')
    return None


def syntax_slip(text: str, error: Exception) -> Slip:
    """What is wrong with a text that could not be parsed, and where."""
    message = str(error)
    place = _AT.search(message)
    line, column = (int(place[1]), int(place[2])) if place else (max(1, text.count("\n")), 0)
    lines = text.split("\n")
    for number in dict.fromkeys((line, line - 1)):
        written = lines[number - 1] if 1 <= number <= len(lines) else ""
        if curly := _CURLY.search(written):
            return (number, curly.start() + 1, f"{curly[0]} is a quotation mark of print", 'Write straight quotes: "')
        if spaced := _SPACED.match(written):
            what = f"[{spaced[1]}.{spaced[2]}]: a name with a space stands in quotes"
            return (number, spaced.start(2) + 1, what, f'Write [{spaced[1]}."{spaced[2]}"]')
    if not isinstance(error, tomllib.TOMLDecodeError) and "digit" in message:
        number = next((n for n, written in enumerate(lines, 1) if re.search(r"\w{4000}", written)), 1)
        return (number, 0, "a number too long to be read", 'Write: key = "value"')
    if isinstance(error, RecursionError):
        return (1, 0, "its lists or tables are nested too deeply", 'Write: key = "value"')
    what = _AT.sub("", message).strip().rstrip(".").replace("(at end of document)", "at its end").strip()
    return (line, column, f"this is not valid TOML: {what[:1].lower() + what[1:]}", 'Write: key = "value"')


def item_place(lines: list[str], line: int, column: int, index: int) -> tuple[int, int]:
    """The place of one entry of a list, line and column from 1.

    Args:
        lines: the text's lines.
        line: the line of the list's key, from 1.
        column: the column of the key, from 1.
        index: which entry, from 0.

    Returns:
        The key's place where no such entry is found.
    """
    text = "\n".join([lines[line - 1][column - 1 :], *lines[line:]]) if line else ""
    at = text.find("[") + 1
    depth, found, waiting = 0, -1, True
    while 0 < at < len(text):
        char = text[at]
        if char == "#":
            at = text.find("\n", at)
            if at < 0:
                break
            continue
        if waiting and not char.isspace() and char not in ",]":
            found, waiting = found + 1, False
            if found == index:
                before = text[:at]
                down = before.count("\n")
                return line + down, (at - before.rfind("\n")) if down else column + at
        if char in "\"'":
            at = _after_quotes(text, at)
            continue
        if char in "[{":
            depth += 1
        elif char in "]}":
            depth -= 1
            if depth < 0:
                break
        elif char == "," and depth == 0:
            waiting = True
        at += 1
    return line, column


def _after_quotes(text: str, at: int) -> int:
    """The character after a quoted text that begins at `at`."""
    quote = text[at]
    end = at + 1
    while end < len(text) and text[end] != quote:
        end += 2 if text[end] == "\\" and quote == '"' else 1
    return end + 1
