"""A set: one file to send, with exercises, assignments, patches, takes and comments. Written here, and opened safely.

It is a ZIP archive with `set.json` in it, which says what the set is and lists every other file with its digest. What
comes from others is untrusted: nothing is unpacked before the whole archive was read and found to be as it says, within
bounds, with names that lead nowhere else.
"""

import hashlib
import re
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

from trainer.music.printable import is_printable, printable
from trainer.music.problem import Problem, ProblemsError
from trainer.new_file import new_file
from trainer.values import NotUnderstoodError, plain, read_json, to_json

ENDING = ".twinset"
MANIFEST = "set.json"
ASSIGNMENTS = "assignments.toml"
VERSION = 1

MOST_FILES = 500
LARGEST_ARCHIVE = 200 << 20
LARGEST_DIRECTORY = 1 << 20
"""Bytes of the archive's table of contents: that of 500 files takes a tenth of it."""
LARGEST_WHOLE = 300 << 20
"""Bytes of everything in it, unpacked."""
MOST_RATIO = 200
"""How often larger than packed a file of more than `RATIO_FROM` bytes may be: text reaches 20."""
RATIO_FROM = 1 << 20
KINDS: tuple[tuple[str, str, int], ...] = (
    ("the manifest", r"set\.json", 1 << 20),
    ("assignments", r"assignments\.toml", 1 << 20),
    ("an exercise", r"exercises/[^/]{1,100}\.md", 8 << 20),
    ("patches", r"patches/[^/]{1,100}\.toml", 256 << 10),
    ("a take's sound", r"takes/[0-9]{8}-[0-9]{6}-[0-9]{3}\.(flac|mid)", 100 << 20),
    ("a take's verdict", r"takes/[0-9]{8}-[0-9]{6}-[0-9]{3}\.json", 4_000_000),
)
"""What a set may hold: what it is, its name in the archive, and the most bytes."""
_ODD = re.compile(r'[\\:*?"<>|]|(^|/)[. -]|[. ](/|\.md$|\.toml$|$)')
"""What is in no file name of a set: drives and streams, wildcards, hidden files, names that some systems cut."""
SET_NAME = re.compile(r"\w[\w -]{0,58}\w|\w")
"""A set's name: letters, digits, spaces and hyphens, up to 60."""
LONGEST_COMMENT = 2000
_END, _LOCATOR_64 = b"PK\x05\x06", b"PK\x06\x07"


class PackedFile(NamedTuple):
    """One file of a set, as the manifest lists it."""

    name: str
    digest: str
    """SHA-256 of its bytes, in hexadecimal."""


@dataclass(frozen=True, slots=True)
class SentComment:
    """A teacher's comment on a take that was sent to them."""

    take: str
    """The take's name where it was played."""
    digest: str
    """SHA-256 of the take's sound, so that the comment reaches no other take."""
    text: str


@dataclass(frozen=True, slots=True)
class SetManifest:
    """What a set says about itself.

    >>> SetManifest("Week 3", "Ines", plays={"Ana": "guitar 2"}).plays["Ana"]
    'guitar 2'
    """

    name: str
    """The set's name, by which it can be taken away."""
    sender: str = ""
    """Who sends it."""
    plays: Mapping[str, str] = field(default_factory=dict, hash=False)
    """Who plays which part, by player."""
    bank: str = ""
    """The file name of the sound bank it was made with; empty for the built-in one."""
    comments: tuple[SentComment, ...] = ()
    files: tuple[PackedFile, ...] = ()
    version: int = VERSION


@dataclass(frozen=True, slots=True)
class OpenedSet:
    """A set that was read whole and found sound."""

    manifest: SetManifest
    files: Mapping[str, bytes] = field(hash=False)
    """Bytes by name in the archive, without the manifest."""

    def under(self, folder: str) -> dict[str, bytes]:
        """The files of a folder, by their names in it, sorted."""
        start = f"{folder}/"
        return {name.removeprefix(start): self.files[name] for name in sorted(self.files) if name.startswith(start)}


def digest_of_bytes(data: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def write_set(path: Path, manifest: SetManifest, files: Mapping[str, bytes]) -> SetManifest:
    """Write a set, whole or not at all; the same contents give the same bytes.

    Args:
        path: the file.
        manifest: what the set says about itself; its list of files is made here.
        files: bytes by name in the archive (`KINDS`).

    Returns:
        The manifest with its list of files.

    Raises:
        ProblemsError: for a set that could not be opened again, or a file that cannot be written.
    """
    listed = tuple(PackedFile(name, digest_of_bytes(files[name])) for name in sorted(files))
    manifest = replace(manifest, files=listed)
    text = to_json(plain(manifest)).encode()
    problems = [_problem(path, trouble) for trouble in _manifest_troubles(manifest)]
    sizes = {MANIFEST: len(text)} | {name: len(data) for name, data in files.items()}
    problems += [_problem(path, trouble) for trouble in _name_troubles(list(sizes))]
    problems += [_problem(path, trouble) for name, size in sizes.items() if (trouble := _size_trouble(name, size))]
    if sum(sizes.values()) > LARGEST_WHOLE:
        problems.append(_problem(path, f"a set may hold {LARGEST_WHOLE >> 20} MiB, and this is more", "Send two sets"))
    if problems:
        raise ProblemsError(problems)
    with new_file(path) as unfinished, zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in ((MANIFEST, text), *((name, files[name]) for name in sorted(files))):
            info = zipfile.ZipInfo(name)  # without the moment, and readable
            info.external_attr = (stat.S_IFREG | 0o644) << 16
            packed = zipfile.ZIP_STORED if name.endswith(".flac") or _squeezes(data) else zipfile.ZIP_DEFLATED
            archive.writestr(info, data, packed)
    return manifest


def read_set(path: Path) -> OpenedSet:
    """Read a set whole. Nothing is written anywhere.

    Raises:
        ProblemsError: for whatever is no set, or is not within bounds, or not as its manifest says.
    """
    try:
        return _read(path)
    except (OSError, EOFError, ValueError, LookupError, NotImplementedError, RuntimeError, OverflowError) as error:
        what = getattr(error, "strerror", None)
        raise _refused(path, f"this file cannot be read: {what}" if what else "this set is damaged") from None
    except (zipfile.BadZipFile, zlib.error, struct.error, MemoryError):
        raise _refused(path, "this set is damaged") from None


def _read(path: Path) -> OpenedSet:
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        raise _refused(path, "this is not a regular file")
    if found.st_size > LARGEST_ARCHIVE:
        raise _refused(path, f"this file has more than {LARGEST_ARCHIVE >> 20} MiB, too much for a set")
    _check_directory(path, found.st_size)
    with zipfile.ZipFile(path) as archive:
        entries = archive.infolist()
        if len(entries) > MOST_FILES:
            raise _refused(path, f"there are more than {MOST_FILES} files in it")
        _check(path, entries)
        files = {entry.filename: _bytes_of(path, archive, entry) for entry in entries}
    if MANIFEST not in files:
        raise _refused(path, f"there is no {MANIFEST} in it: this is no set")
    manifest = _manifest(path, files.pop(MANIFEST))
    listed = {each.name: each.digest for each in manifest.files}
    if len(listed) != len(manifest.files) or listed.keys() != files.keys():
        raise _refused(path, "it does not hold the files that it lists")
    changed = [name for name, data in files.items() if digest_of_bytes(data) != listed[name]]
    if changed:
        raise _refused(path, f"{printable(changed[0])} was changed after the set was made")
    return OpenedSet(manifest, files)


def _check_directory(path: Path, size: int) -> None:
    """Look at the table of contents' size before anything of it is read."""
    with path.open("rb") as file:
        file.seek(max(0, size - 22 - 0xFFFF))
        tail = file.read()
    at = len(tail) - 22 if tail[-22:-18] == _END and tail[-2:] == b"\0\0" else tail.rfind(_END)
    if at < 0 or len(tail) - at < 22:
        raise _refused(path, f"this is no set: a set is a file ending in {ENDING} that pack has written")
    if int.from_bytes(tail[at + 12 : at + 16], "little") > LARGEST_DIRECTORY or tail[at - 20 : at - 16] == _LOCATOR_64:
        raise _refused(path, f"there are more than {MOST_FILES} files in it")


def _check(path: Path, entries: list[zipfile.ZipInfo]) -> None:
    """Refuse what may do harm, before a byte is unpacked."""
    troubles = _name_troubles([entry.orig_filename for entry in entries])
    if troubles:
        raise ProblemsError([_problem(path, trouble) for trouble in troubles[:20]])
    problems = []
    for entry in entries:
        name = printable(entry.orig_filename)
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if entry.filename != entry.orig_filename or entry.is_dir() or kind not in {0, stat.S_IFREG}:
            problems.append(_problem(path, f"{name} is no plain file"))
        if entry.flag_bits & 0x1:
            problems.append(_problem(path, f"{name} is encrypted", "Ask for a set without a password"))
        if entry.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
            problems.append(_problem(path, f"{name} is packed in a way that no set is"))
        if trouble := _size_trouble(entry.orig_filename, entry.file_size):
            problems.append(_problem(path, trouble))
        if entry.file_size > max(RATIO_FROM, MOST_RATIO * entry.compress_size):
            problems.append(_problem(path, f"{name} grows far too much when it is unpacked"))
    if sum(entry.file_size for entry in entries) > LARGEST_WHOLE:
        problems.append(_problem(path, f"unpacked it has more than {LARGEST_WHOLE >> 20} MiB"))
    if problems:
        raise ProblemsError(problems[:20])


def _name_troubles(names: list[str]) -> list[str]:
    """What is wrong with the names of files, each told by itself and beside the others."""
    troubles = []
    seen: dict[str, str] = {}
    for name in names:
        if _kind_of(name) is None or _ODD.search(name) or not is_printable(name):
            troubles.append(f'a set holds no file called "{printable(name)[:120]}"')
        same = seen.setdefault(unicodedata.normalize("NFKC", name).casefold(), name)
        if same is not name:
            troubles.append(f'it holds two files called "{printable(name)[:120]}"')
    return troubles


def _kind_of(name: str) -> tuple[str, str, int] | None:
    return next((kind for kind in KINDS if re.fullmatch(kind[1], name)), None)


def _size_trouble(name: str, size: int) -> str:
    kind = _kind_of(name)
    if kind is None or size <= kind[2]:
        return ""
    return f"{printable(name)} has {size:,} bytes, too many for {kind[0]}"


def _bytes_of(path: Path, archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    """A file's bytes, never more than it says."""
    with archive.open(entry) as file:
        data = file.read(entry.file_size + 1)
    if len(data) != entry.file_size:
        raise _refused(path, f"{printable(entry.filename)} is not as long as it says")
    return data


def _manifest(path: Path, data: bytes) -> SetManifest:
    try:
        manifest = read_json(SetManifest, data)
    except NotUnderstoodError as error:
        raise _refused(path, f"its {MANIFEST} is wrong: {error}") from None
    if manifest.version != VERSION:
        raise _refused(path, "it was made by a newer version of the program", "Update the program to open it")
    troubles = _manifest_troubles(manifest)
    if troubles:
        raise ProblemsError([_problem(path, trouble) for trouble in troubles])
    return manifest


def _manifest_troubles(manifest: SetManifest) -> list[str]:
    troubles = []
    if not SET_NAME.fullmatch(manifest.name):
        told = printable(manifest.name)[:80]
        troubles.append(f'a set cannot be called "{told}": up to 60 letters, digits, spaces and hyphens')
    texts = (manifest.sender, manifest.bank, *manifest.plays, *manifest.plays.values())
    if any(len(text) > 200 for text in texts) or len(manifest.plays) > 50:
        troubles.append("the names in it are too long, or too many")
    if any(not name.strip() or not part.strip() for name, part in manifest.plays.items()):
        troubles.append("a player or a part in it has no name")
    if len(manifest.comments) > MOST_FILES or any(len(each.text) > LONGEST_COMMENT for each in manifest.comments):
        troubles.append(f"the comments in it are too many, or one is longer than {LONGEST_COMMENT} characters")
    return troubles


def _squeezes(data: bytes) -> bool:
    """Whether a file would be taken for a bomb if it were packed."""
    return len(data) > RATIO_FROM and len(data) > MOST_RATIO // 2 * len(zlib.compress(data))


def _problem(path: Path, what: str, hint: str = "Ask for the set again") -> Problem:
    return Problem(printable(str(path)), 0, 0, what, hint=hint)


def _refused(path: Path, what: str, hint: str = "Ask for the set again") -> ProblemsError:
    return ProblemsError([_problem(path, what, hint)])
