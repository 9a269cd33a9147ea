"""The program's own processes run nothing that lies in the current folder, whatever it is called."""

import os
import subprocess
import sys
import textwrap
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from trainer import own_process
from trainer.places import PACKAGE

NAMES = sorted({*sys.stdlib_module_names, *packages_distributions(), "trainer", "usercustomize", "sitecustomize"})
"""Every module that could be imported here at all: those that the processes import are among them."""

JUDGES = """
from fractions import Fraction
from trainer.listening.worker_judge import WorkerJudge
from trainer.listening.written import WrittenPart, WrittenStroke
judging = WorkerJudge()
from trainer.listening.live_judge import warm_up
from trainer.listening.bands import Bands
warm_up(judging, Bands())
print("judged", "there" if judging._here is None else "here")
judging.close()
"""

SERVES = """
from trainer.playback.port_names import PortError
from trainer.playback.port_sink import PortSink
try:
    PortSink("nobody", "jack")
except PortError as error:
    print(error)
"""


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """A folder with a module of every name, each of which leaves a mark when it runs."""
    folder = tmp_path / "downloaded"
    folder.mkdir()
    for name in NAMES:
        mark = f"open({str(tmp_path / 'ran')!r}, 'a').write({name + chr(10)!r})\nraise ImportError({name!r})\n"
        (folder / f"{name}.py").write_text(mark)
    return folder


def run_in(folder: Path, program: str, paths: str) -> str:
    """Run a program of ours as the trainer itself runs: it is the child that must be safe by itself."""
    done = subprocess.run(
        [sys.executable, "-P", "-c", textwrap.dedent(program)],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(PACKAGE.parent), "LATER": paths},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


AS_GIVEN = "import os; os.environ['PYTHONPATH'] = os.environ['LATER']\n"


@pytest.mark.parametrize("paths", ["", os.pathsep, "." + os.pathsep + str(PACKAGE.parent)])
def test_what_lies_in_the_current_folder_does_not_run_where_takes_are_judged(hostile: Path, paths: str) -> None:
    assert run_in(hostile, AS_GIVEN + JUDGES, paths) == "judged there\n"
    assert not (hostile.parent / "ran").exists()


@pytest.mark.parametrize("paths", ["", os.pathsep])
def test_what_lies_in_the_current_folder_does_not_run_where_a_port_is_served(hostile: Path, paths: str) -> None:
    assert "MIDI" in run_in(hostile, AS_GIVEN + SERVES, paths)
    assert not (hostile.parent / "ran").exists()


def test_the_names_tried_hold_every_module_that_the_processes_import() -> None:
    for module in (
        "trainer.listening.judge_worker",
        "trainer.playback.port_process",
        "trainer.playback.midi_in_process",
    ):
        program = f"import {module}, sys; print(*{{name.partition('.')[0] for name in sys.modules}})"
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
        own = {name for name in done.stdout.split() if not name.startswith(("_", "__"))}
        assert own <= {*NAMES, *sys.builtin_module_names}


def test_a_process_gets_its_words_and_the_owners_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TWINSPUR_TEST", "heard")
    process = own_process.start("trainer", ["--version"], environment={"TWINSPUR_OTHER": "set"})
    told, _ = process.communicate(timeout=60)
    assert process.returncode == 0
    assert told.decode().strip()
