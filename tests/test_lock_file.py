"""The lock file names a version and hashes of everything that `pyproject.toml` asks for, within its ranges."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

ROOT = Path(__file__).parents[1]
PYTHONS = ("3.11.0", "3.12.0", "3.13.0", "3.14.0")


def locked(text: str) -> list[tuple[Requirement, int]]:
    """Each requirement of a lock file, and how many hashes it has."""
    whole = re.sub(r"\\\n", " ", re.sub(r"^\s*#.*\n", "", text, flags=re.M))
    lines = [line for line in whole.splitlines() if line.strip()]
    return [(Requirement(line.partition(" --hash")[0]), line.count("--hash=sha256:")) for line in lines]


def asked() -> list[Requirement]:
    """What `pyproject.toml` asks for, the tests' packages among it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return [Requirement(text) for text in (*project["dependencies"], *project["optional-dependencies"]["test"])]


@pytest.fixture(scope="module")
def lock() -> list[tuple[Requirement, int]]:
    return locked((ROOT / ".ci" / "requirements.lock").read_text("utf-8"))


def test_everything_has_one_version_and_a_hash(lock: list[tuple[Requirement, int]]) -> None:
    assert len(lock) > len(asked())
    for requirement, hashes in lock:
        assert re.fullmatch(r"==[^,*]+", str(requirement.specifier)), requirement
        assert hashes, requirement


@pytest.mark.parametrize("python", PYTHONS)
def test_every_dependency_is_locked_within_its_range(lock: list[tuple[Requirement, int]], python: str) -> None:
    here = {"python_version": python.rpartition(".")[0], "python_full_version": python}
    versions = {
        each.name: str(each.specifier).removeprefix("==")
        for each, _ in lock
        if each.marker is None or each.marker.evaluate(here)
    }
    for wanted in asked():
        assert wanted.name in versions, f"{wanted.name} is not in .ci/requirements.lock: write it again, as it says"
        assert SpecifierSet(str(wanted.specifier)).contains(versions[wanted.name]), wanted
