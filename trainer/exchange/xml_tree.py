"""XML that somebody else wrote, read within bounds: no entities, nothing fetched, so deep, so long and no more.

A tree of plain nodes with their lines, so that what is wrong can be told with its place. Compressed MusicXML is read
in memory from the one file that its container names; nothing is unpacked to disk.
"""

import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from typing import NoReturn
from xml.parsers import expat  # entities are refused below, and nothing outside is fetched

from trainer.music.printable import printable
from trainer.music.problem import Problem, ProblemsError

MOST_BYTES = 32 * 1024 * 1024
"""Size of a file, and of what a compressed one holds."""
MOST_RATIO = 200
"""How many times larger the content of a compressed file may be than the file says it in."""
MOST_NODES = 500_000
MOST_DEPTH = 64
MOST_MEMBERS = 1_000
"""Files in a compressed file."""
MOST_TEXT = 1_000_000
"""Characters of one element's text."""
_ROOT_FILES = ".musicxml", ".xml"


@dataclass(slots=True, eq=False)
class Node:
    """One element."""

    tag: str
    attributes: dict[str, str]
    line: int
    text: str = ""
    inside: "list[Node]" = field(default_factory=list)

    def first(self, *path: str) -> "Node | None":
        """The first element of a path of tags below this one, or None."""
        node: Node | None = self
        for tag in path:
            node = next((each for each in node.inside if each.tag == tag), None) if node else None
        return node

    def every(self, tag: str) -> "Iterator[Node]":
        """The elements of a tag right below this one."""
        return (each for each in self.inside if each.tag == tag)

    def said(self, *path: str) -> str:
        """The text of the first element of a path, without space around it; empty where there is none."""
        node = self.first(*path)
        return node.text.strip() if node else ""


def read_tree(data: bytes, file: str) -> Node:
    """The root of an XML text, or of the one in a compressed MusicXML file.

    Raises:
        ProblemsError: it is no such text, or is beyond the bounds.
    """
    if len(data) > MOST_BYTES:
        _refuse(file, 0, f"this file has {len(data) // 1024 // 1024} MiB", f"at most {MOST_BYTES // 1024 // 1024}")
    return _Tree(file).read(_unpacked(data, file) if data[:4] == b"PK\x03\x04" else data)


def _refuse(file: str, line: int, what: str, allowed: str = "", hint: str = "", *, column: int = 0) -> NoReturn:
    raise ProblemsError([Problem(file, line, column, what, allowed, hint)])


class _Tree:
    """Builds the tree while expat reads."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.open: list[Node] = []
        self.root: Node | None = None
        self.nodes = 0
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        self.parser.EntityDeclHandler = self._entity
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._said

    def read(self, data: bytes) -> Node:
        try:
            self.parser.Parse(data, True)
        except expat.ExpatError as error:
            what = f"this is not well-formed XML: {expat.ErrorString(error.code)}"
            _refuse(self.file, error.lineno, what, column=error.offset + 1)
        except (LookupError, ValueError):  # an encoding that nobody knows
            _refuse(self.file, 1, "this file's encoding is not known", "UTF-8")
        if self.root is None:
            _refuse(self.file, 0, "this file is empty")
        return self.root

    def _entity(self, *_: object) -> None:
        line = self.parser.CurrentLineNumber
        _refuse(self.file, line, "this file declares entities, which are not read", "", "Export the score again")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        line = self.parser.CurrentLineNumber
        self.nodes += 1
        if self.nodes > MOST_NODES:
            _refuse(self.file, line, "this score is too long", f"at most {MOST_NODES:,} elements", "Divide it")
        if len(self.open) >= MOST_DEPTH:
            _refuse(self.file, line, "elements stand too deep in each other", f"at most {MOST_DEPTH} levels")
        node = Node(tag, attributes, line)
        if self.open:
            self.open[-1].inside.append(node)
        else:
            self.root = node
        self.open.append(node)

    def _end(self, _: str) -> None:
        self.open.pop()

    def _said(self, text: str) -> None:
        node = self.open[-1]
        if len(node.text) + len(text) > MOST_TEXT:
            _refuse(self.file, self.parser.CurrentLineNumber, "a text in this score is too long")
        if not text.isspace():
            node.text += text


def _unpacked(data: bytes, file: str) -> bytes:
    """The score in a compressed file."""
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > MOST_MEMBERS:
                _refuse(file, 0, f"{len(names):,} files in this compressed score", f"at most {MOST_MEMBERS:,}")
            name = _root_file(archive, names, file)
            return _member(archive, name, file)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, ValueError) as error:
        if isinstance(error, ProblemsError):
            raise
        _refuse(file, 0, f"this compressed score is damaged: {printable(str(error))[:100]}", "", "Export it again")


def _root_file(archive: zipfile.ZipFile, names: list[str], file: str) -> str:
    container = "META-INF/container.xml"
    if container in names:
        root = _Tree(file).read(_member(archive, container, file))
        files = root.first("rootfiles")
        for each in files.every("rootfile") if files else ():
            path = each.attributes.get("full-path", "")
            if path in names:
                return path
    found = next((name for name in names if name.endswith(_ROOT_FILES) and not name.startswith("META-INF/")), "")
    return found or _refuse(file, 0, "this compressed file holds no score", "", "Export it again")


def _member(archive: zipfile.ZipFile, name: str, file: str) -> bytes:
    """The content of one file in it, read no farther than it may be long."""
    info = archive.getinfo(name)
    most = min(MOST_BYTES, max(info.compress_size, 1) * MOST_RATIO + 4096)
    with archive.open(info) as member:
        data = member.read(most + 1)
    if len(data) > most:
        _refuse(file, 0, "this compressed score is far larger inside than outside", f"{MOST_RATIO} times at most")
    return data
