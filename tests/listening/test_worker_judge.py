"""The process that judges: the same judgements as here, problems told, and nothing lost when it is."""

import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import psutil
import pytest

from tests.listening.plucked import gallop, player, record
from trainer.listening.bands import Bands
from trainer.listening.judge_worker import LENGTH_BYTES, SharedPart, packed
from trainer.listening.live_judge import LocalJudge, Question
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.sound import Sound
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes
from trainer.listening.worker_judge import JudgeWorkerError, WorkerJudge
from trainer.music.problem import ProblemsError

NOW = datetime(2031, 5, 4, 18, 0, tzinfo=UTC)
WRITTEN = gallop(190, 4)
QUESTION = Question(WRITTEN, 0.15, Bands(), warnings=("It rained.",))


def sound() -> Sound:
    notes = player(WRITTEN, 0.17)
    return record([*notes[:7], *notes[8:]], float(WRITTEN.length) + 0.4)


def test_judgements_are_those_made_here_and_the_take_is_kept_there(tmp_path: Path) -> None:
    apart, here = WorkerJudge(), LocalJudge()
    whole = sound()
    for judging in (apart, here):
        judging.begin(whole.rate)
        for piece in np.array_split(whole.samples, 5):
            judging.add(piece)
            judging.look(QUESTION)
    begins = here.looked()
    assert begins == pytest.approx(0.17, abs=0.01) and here.looked() is None
    one, other = apart.judge(QUESTION), here.judge(QUESTION)
    assert one.verdict == other.verdict and one.performance == other.performance
    assert one.warnings[-1] == "It rained."
    apart.keep(tmp_path / "takes", 10**9, TakeInfo(riff="Gale"), NOW)
    (take,) = Takes(tmp_path / "takes").all()
    assert take.info.riff == "Gale" and take.verdict == one.verdict
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(ProblemsError, match="cannot be kept"):
        apart.keep(tmp_path / "file" / "takes", 10**9, TakeInfo(), NOW)
    apart.close()


def test_a_look_tells_where_the_pass_begins_and_is_not_waited_for() -> None:
    apart = WorkerJudge()
    whole = sound()
    apart.begin(whole.rate)
    apart.add(whole.samples)
    apart.look(QUESTION)
    assert apart.looked() is None
    end = time.monotonic() + 60
    while (found := apart.looked()) is None:
        assert time.monotonic() < end
        time.sleep(0.02)
    assert found == pytest.approx(0.17, abs=0.01)
    apart.look(QUESTION)
    assert apart.judge(QUESTION).verdict.counts
    apart.close()


def test_notes_by_midi_are_judged_there_too() -> None:
    apart = WorkerJudge()
    notes = tuple(MidiNote(stroke.at + 1, stroke.pitches[0]) for stroke in WRITTEN.strokes)
    judgement = apart.judge(Question(WRITTEN, 1.0, Bands()), MidiTake(notes))
    assert judgement.verdict.measured is not None and judgement.verdict.measured.matched == len(notes)
    apart.close()


def test_the_judgement_on_a_long_pass_comes_through_a_pipe_that_gives_it_in_pieces() -> None:
    """A pipe holds 64 KiB at first, and two minutes of gallops are told in more."""
    written = gallop(190, 140)
    notes = tuple(MidiNote(stroke.at + 1, stroke.pitches[0]) for stroke in written.strokes)
    apart = WorkerJudge()
    question = Question(written, 1.0, Bands())
    judgement = apart.judge(question, MidiTake(notes))
    assert len(packed(judgement, SharedPart(written))) > 2 * 65_536
    assert judgement == LocalJudge().judge(question, MidiTake(notes))
    assert apart._here is None  # it was judged there, and will be the next time
    assert apart.judge(question, MidiTake(notes)) == judgement
    apart.close()


def test_an_answer_that_breaks_off_is_judged_here(monkeypatch: pytest.MonkeyPatch) -> None:
    apart = WorkerJudge()
    whole = sound()
    apart.begin(whole.rate, lambda: whole.samples)
    apart.add(whole.samples)
    (child,) = [each for each in psutil.Process().children() if "judge_worker" in " ".join(each.cmdline())]
    received = apart._received

    def breaks_off(length: int) -> bytes:
        got = received(length)
        if length > LENGTH_BYTES:
            return got[: len(got) // 2] + received(1 << 20)
        child.kill()
        return got

    monkeypatch.setattr(apart, "_received", breaks_off)
    assert apart.judge(QUESTION).verdict == local_verdict(whole)
    assert apart._here is not None
    apart.close()


def test_a_mistake_there_is_told_here_with_how_it_came_about() -> None:
    apart = WorkerJudge()
    with pytest.raises(JudgeWorkerError, match="judge") as told:
        apart.judge(QUESTION, "no take")  # type: ignore[arg-type]
    assert "Traceback" in told.value.__notes__[0]
    assert apart._here is None
    apart.close()


def test_a_lost_process_is_replaced_by_judging_here() -> None:
    apart = WorkerJudge()
    whole = sound()
    cut = len(whole.samples) // 2
    sent = [0]
    apart.begin(whole.rate, lambda: whole.samples[: sent[0]])
    apart.add(whole.samples[:cut])
    sent[0] = cut
    (child,) = [each for each in psutil.Process().children() if "judge_worker" in " ".join(each.cmdline())]
    child.kill()
    child.wait(5)
    apart.add(whole.samples[cut:])
    sent[0] = len(whole.samples)
    assert apart.judge(QUESTION).verdict == local_verdict(whole)
    apart.close()


def local_verdict(whole: Sound) -> object:
    here = LocalJudge()
    here.begin(whole.rate)
    here.add(whole.samples)
    return here.judge(QUESTION).verdict


def test_it_ends_with_its_owner(tmp_path: Path) -> None:
    script = (
        "import os, sys\n"
        "from trainer.listening.worker_judge import WorkerJudge\n"
        "from trainer.listening.live_judge import Question\n"
        "judging = WorkerJudge()\n"
        "print(judging._process.pid, flush=True)\n"
        "os._exit(1)\n"
    )
    import subprocess
    import sys

    told = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=Path.cwd())
    child = int(told.stdout)
    end = time.monotonic() + 60
    while psutil.pid_exists(child) and psutil.Process(child).status() != psutil.STATUS_ZOMBIE:
        assert time.monotonic() < end
        time.sleep(0.05)
