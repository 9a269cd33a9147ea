"""Exercise files on disk: every way to fail is a sentence, and nothing is ever half-written."""

import os
import resource
import signal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.notation.iron import IRON
from trainer.music.problem import ProblemsError
from trainer.notation.files import file_text, read_file, save
from trainer.notation.read import read
from trainer.places import bundled

BUNDLED = [IRON, *(p.read_text("utf-8") for p in sorted(bundled("exercises").glob("*.md")) if p.name != "README.md")]


def test_a_file_that_is_missing(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match="there is no such file"):
        file_text(tmp_path / "none.md")


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match="this is a folder"):
        file_text(tmp_path)


def test_a_device() -> None:
    with pytest.raises(ProblemsError, match="not a regular file"):
        file_text(Path("/dev/null"))


def test_a_file_of_fifty_megabytes(tmp_path: Path) -> None:
    path = tmp_path / "big.md"
    with path.open("wb") as out:
        out.truncate(50 * 1024 * 1024)
    with pytest.raises(ProblemsError, match="50 MiB, too much"):
        file_text(path)


def test_text_that_is_not_utf_8(tmp_path: Path) -> None:
    path = tmp_path / "latin.md"
    path.write_bytes('+++\ntitle = "Brücke"\n'.encode("latin-1"))
    with pytest.raises(ProblemsError, match=r"latin.md:2:12: this file is not UTF-8 text \(byte 0xfc\)"):
        file_text(path)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_without_permission(tmp_path: Path) -> None:
    path = tmp_path / "secret.md"
    path.write_text(IRON)
    path.chmod(0)
    with pytest.raises(ProblemsError, match="no permission"):
        file_text(path)


def test_names_that_no_file_can_have() -> None:
    with pytest.raises(ProblemsError, match="cannot be read"):
        file_text(Path("a\0b.md"))
    with pytest.raises(ProblemsError, match="cannot be read"):
        file_text(Path("x" * 5000 + ".md"))


def test_the_id_is_the_files_name(tmp_path: Path) -> None:
    path = tmp_path / "my-causeway.md"
    path.write_text(IRON)
    assert read_file(path).id == "my-causeway"


def test_saving_follows_links_and_keeps_permissions(tmp_path: Path) -> None:
    real = tmp_path / "real.md"
    real.write_text("old")
    real.chmod(0o640)
    link = tmp_path / "link.md"
    link.symlink_to(real)
    save(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert real.stat().st_mode & 0o777 == 0o640


def test_a_full_disk_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "kept.md"
    path.write_text("old")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1024, before[1]))
        with pytest.raises(ProblemsError, match="cannot be written: File too large"):
            save(path, "x" * 4096)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, handler)
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["kept.md"]


def test_other_line_ends_and_a_byte_order_mark_read_alike() -> None:
    assert read("\ufeff" + IRON.replace("\n", "\r\n"), "iron.md") == read(IRON, "iron.md")


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_changed_byte_gives_an_exercise_or_a_located_error(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(BUNDLED)).encode()
    at = data.draw(st.integers(0, len(text) - 1))
    changed = text[:at] + bytes([data.draw(st.integers(0, 255))]) + text[at + 1 :]
    try:
        read(changed.decode("utf-8", "replace"), "changed.md")
    except ProblemsError as error:
        assert all(problem.line > 0 for problem in error.problems)
        assert str(error).isprintable() or "\n" in str(error)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_two_pieces_swapped_or_lost_give_an_exercise_or_a_located_error(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(BUNDLED))
    cuts = sorted(data.draw(st.lists(st.integers(0, len(text)), min_size=3, max_size=3)))
    a, b, c, d = text[: cuts[0]], text[cuts[0] : cuts[1]], text[cuts[1] : cuts[2]], text[cuts[2] :]
    try:
        read(data.draw(st.sampled_from([a + c + b + d, a + d, a + b + b + c + d])), "changed.md")
    except ProblemsError as error:
        assert all(problem.line > 0 for problem in error.problems)


@given(st.text())
def test_any_text_at_all_gives_a_located_error(text: str) -> None:
    with pytest.raises(ProblemsError):
        read("+++\n" + text, "any.md")
