"""The examples in docstrings run, and the values that everything is made of have one."""

import doctest
import importlib
from pathlib import Path

import pytest

from trainer.places import PACKAGE

MODULES = sorted(
    ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
    for path in PACKAGE.rglob("*.py")
    if "stubs" not in path.parts and ">>> " in path.read_text("utf-8")
)
VALUES = (
    "trainer.listening.bands.Bands",
    "trainer.listening.judging.Judgement",
    "trainer.listening.written.WrittenPart",
    "trainer.music.interval.Interval",
    "trainer.music.meter.Meter",
    "trainer.music.note.Note",
    "trainer.music.pitch.Name",
    "trainer.music.riff.Riff",
    "trainer.music.tempo.tempo_map",
    "trainer.playback.mix.Mix",
    "trainer.playback.piece.Loop",
    "trainer.playback.plan.Plan",
    "trainer.playback.timeline.Timeline",
    "trainer.playback.share.share_for_bpm",
    "trainer.practice.goals.Goal",
    "trainer.practice.ladder.Ladder",
    "trainer.practice.ladder_rules.LadderRules",
    "trainer.practice.passes.Pass",
    "trainer.practice.verdict.Verdict",
    "trainer.session.machine.Machine",
    "trainer.session.memory.MemoryKey",
    "trainer.settings.Settings",
)


@pytest.mark.parametrize("module", MODULES)
def test_the_examples_in_docstrings_run(module: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for home in ("CONFIG", "DATA", "STATE", "CACHE"):  # not the player's own
        monkeypatch.setenv(f"XDG_{home}_HOME", str(tmp_path / home))
    done = doctest.testmod(importlib.import_module(module), optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE)
    assert done.attempted
    assert not done.failed


@pytest.mark.parametrize("value", VALUES)
def test_the_values_that_everything_is_made_of_have_an_example(value: str) -> None:
    module, name = value.rsplit(".", 1)
    assert ">>> " in (getattr(importlib.import_module(module), name).__doc__ or "")
