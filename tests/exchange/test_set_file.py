"""A set's file: read back as written, the same bytes each time, and nothing hostile gets past it."""

import io
import random
import stat
import struct
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.exchange.set_file import (
    LARGEST_WHOLE,
    MOST_FILES,
    OpenedSet,
    PackedFile,
    SentComment,
    SetManifest,
    digest_of_bytes,
    read_set,
    write_set,
)
from trainer.music.problem import ProblemsError
from trainer.values import plain, to_json

FILES = {"exercises/iron.md": b"+++\n+++\n" * 50, "assignments.toml": b"#", "patches/own.toml": b"# none\n",
         "takes/20310504-120000-000.mid": b"MThd" * 9, "takes/20310504-120000-000.json": b"{}"}  # fmt: skip
MANIFEST = SetManifest(
    "Week 3", "Ines", {"Ana": "guitar 2"}, "big.sf2", (SentComment("20310504-120000-001", "0" * 64, "Looser."),)
)


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("set") / "week.twinset"
    write_set(path, MANIFEST, FILES)
    return path.read_bytes()


def archive(entries: list[tuple[str | zipfile.ZipInfo, bytes]], packed: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packed) as file:
        for name, data in entries:
            file.writestr(name, data)
    return out.getvalue()


def manifest_of(files: dict[str, bytes], **more: object) -> bytes:
    listed = [PackedFile(name, digest_of_bytes(data)) for name, data in files.items()]
    return to_json(plain(SetManifest("Week 3", files=tuple(listed))) | more).encode()


def whole(name: str | zipfile.ZipInfo = "exercises/a.md", data: bytes = b"x") -> bytes:
    """An archive of one file that the manifest lists as it is."""
    text = name if isinstance(name, str) else name.filename
    return archive([("set.json", manifest_of({text: data})), (name, data)])


def told(folder: Path, data: bytes) -> str:
    path = folder / "sent.twinset"
    path.write_bytes(data)
    with pytest.raises(ProblemsError) as error:
        read_set(path)
    assert all("sent.twinset" in str(problem) for problem in error.value.problems)
    return str(error.value)


def test_a_set_is_read_as_it_was_written(tmp_path: Path, good: bytes) -> None:
    path = tmp_path / "week.twinset"
    path.write_bytes(good)
    opened = read_set(path)
    assert opened.files == FILES
    assert opened.manifest.plays == {"Ana": "guitar 2"} and opened.manifest.comments == MANIFEST.comments
    assert [each.name for each in opened.manifest.files] == sorted(FILES)
    write_set(tmp_path / "again.twinset", MANIFEST, dict(reversed(FILES.items())))
    assert (tmp_path / "again.twinset").read_bytes() == good


def link(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    return info


@pytest.mark.parametrize(
    "name",
    [
        "../outside.md", "/etc/passwd", "exercises/../../outside.md", "exercises/a/b.md", "C:/a.md", "exercises\\a.md",
        "exercises/a:b.md", "exercises/.hidden.md", "exercises/-rf.md", "exercises/", "exercises/ .md", "set.json/x",
        "exercises/a.md.exe", "exercises/\x1b[31m.md", "takes/a.flac", "takes/20310504-120000-000.wav", "else.txt",
        "exercises/a\u202e.md", "exercises/" + "a" * 200 + ".md", "./exercises/a.md", "exercises//a.md",
    ],
)  # fmt: skip
def test_a_name_that_no_set_has_is_refused(tmp_path: Path, name: str) -> None:
    said = told(tmp_path, whole(name))
    assert "a set holds no file called" in said
    assert "\x1b" not in said
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sent.twinset"]


def test_a_name_that_ends_early_is_refused(tmp_path: Path) -> None:
    data = whole("exercises/aXb.md").replace(b"exercises/aXb.md", b"exercises/a\0b.md")
    assert "exercises/a" in told(tmp_path, data)


@pytest.mark.parametrize("names", [("exercises/a.md", "exercises/A.md"), ("exercises/é.md", "exercises/e\u0301.md")])
def test_names_that_are_one_name_elsewhere_are_refused(tmp_path: Path, names: tuple[str, str]) -> None:
    files = dict.fromkeys(names, b"x")
    said = told(tmp_path, archive([("set.json", manifest_of(files)), *files.items()]))
    assert "holds two files called" in said


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_one_name_twice_is_refused(tmp_path: Path) -> None:
    files = {"exercises/a.md": b"x"}
    entries = [("set.json", manifest_of(files)), *files.items(), *files.items()]
    assert "holds two files called" in told(tmp_path, archive(entries))


def test_a_link_is_refused(tmp_path: Path) -> None:
    assert "is no plain file" in told(tmp_path, whole(link("exercises/a.md"), b"/etc/passwd"))


def test_an_encrypted_file_is_refused(tmp_path: Path) -> None:
    data = bytearray(whole())
    at = data.rindex(b"PK\x01\x02")
    data[at + 8] |= 1
    assert "is encrypted" in told(tmp_path, bytes(data))


def test_a_strange_packing_is_refused(tmp_path: Path) -> None:
    files = {"exercises/a.md": b"x"}
    said = told(tmp_path, archive([("set.json", manifest_of(files)), *files.items()], zipfile.ZIP_BZIP2))
    assert "packed in a way that no set is" in said


def test_what_grows_far_too_much_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    data = whole("takes/20310504-120000-000.flac", bytes(90 << 20))
    assert len(data) < 1 << 20
    tracemalloc.start()
    said = told(tmp_path, data)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "grows far too much" in said
    assert most < 8 << 20


def test_a_file_that_is_too_large_is_refused(tmp_path: Path) -> None:
    assert "too many for patches" in told(tmp_path, whole("patches/a.toml", random.Random(1).randbytes(300_000)))


def test_a_whole_that_is_too_large_is_refused_by_what_it_says(tmp_path: Path) -> None:
    names = [f"takes/20310504-120000-{number:03}.flac" for number in range(4)]
    data = bytearray(archive([(name, b"x") for name in names], zipfile.ZIP_STORED))
    at = -1
    for _ in names:
        at = data.index(b"PK\x01\x02", at + 1)
        struct.pack_into("<II", data, at + 20, 90 << 20, 90 << 20)
    assert LARGEST_WHOLE < 4 * (90 << 20)
    assert "unpacked it has more than" in told(tmp_path, bytes(data))


def test_too_many_files_are_refused(tmp_path: Path) -> None:
    few = [(f"exercises/{number}.md", b"") for number in range(MOST_FILES + 1)]
    assert f"more than {MOST_FILES} files" in told(tmp_path, archive(few))
    many = [(f"exercises/{number}.md", b"") for number in range(20_000)]
    assert f"more than {MOST_FILES} files" in told(tmp_path, archive(many))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda files: [("set.json", manifest_of(files)), ("exercises/a.md", b"y")], "was changed after"),
        (lambda files: [("set.json", manifest_of(files))], "does not hold the files"),
        (lambda files: [("set.json", manifest_of({})), *files.items()], "does not hold the files"),
        (lambda files: [*files.items()], "no set.json"),
        (lambda files: [("set.json", b"[]"), *files.items()], "its set.json is wrong"),
        (lambda files: [("set.json", b"[" * 100_000), *files.items()], "its set.json is wrong"),
        (lambda files: [("set.json", b"\xff"), *files.items()], "its set.json is wrong"),
        (lambda files: [("set.json", manifest_of(files, version=2)), *files.items()], "newer version"),
        (lambda files: [("set.json", manifest_of(files, name="../up")), *files.items()], "cannot be called"),
        (lambda files: [("set.json", manifest_of(files, name="\x1b[2J")), *files.items()], "cannot be called"),
        (lambda files: [("set.json", manifest_of(files, sender="x" * 999)), *files.items()], "too long"),
        (lambda files: [("set.json", manifest_of(files, plays={"Ana": ""})), *files.items()], "has no name"),
    ],
    ids=range(12),
)
def test_a_manifest_that_is_not_true_is_refused(
    tmp_path: Path, change: Callable[[dict[str, bytes]], list[tuple[str | zipfile.ZipInfo, bytes]]], message: str
) -> None:
    assert message in told(tmp_path, archive(change({"exercises/a.md": b"x"})))


@pytest.mark.parametrize("data", [b"", b"no archive", b"PK\x05\x06", b"PK\x05\x06" + bytes(18)])
def test_what_is_no_archive_is_refused(tmp_path: Path, data: bytes) -> None:
    told(tmp_path, data)


def test_a_folder_and_what_is_not_there_are_sentences(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "nothing.twinset"):
        with pytest.raises(ProblemsError):
            read_set(path)


@settings(deadline=None, max_examples=150)
@given(st.data())
def test_a_damaged_set_is_refused_or_holds_what_was_packed(
    tmp_path_factory: pytest.TempPathFactory, good: bytes, data: st.DataObject
) -> None:
    changed = bytearray(good)
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(changed) - 1))
        match data.draw(st.sampled_from(("set", "cut", "double"))):
            case "set":
                changed[at] = data.draw(st.integers(0, 255))
            case "cut":
                del changed[at : at + data.draw(st.integers(1, 30))]
                changed = changed or bytearray(b"x")
            case _:
                changed[at:at] = changed[at : at + 40]
    path = tmp_path_factory.getbasetemp() / "mutant.twinset"
    path.write_bytes(changed)
    try:
        opened: OpenedSet = read_set(path)
    except ProblemsError:
        return
    assert opened.files == FILES


def test_a_set_that_could_not_be_opened_is_not_written(tmp_path: Path) -> None:
    for manifest, files in ((SetManifest(".."), FILES), (MANIFEST, {"else.txt": b""})):
        with pytest.raises(ProblemsError):
            write_set(tmp_path / "x.twinset", manifest, files)
    assert list(tmp_path.iterdir()) == []
