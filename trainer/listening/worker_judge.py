"""The stand's side of the process that judges: calls to it, answers back, and judging here should it be lost."""

import io
import os
import select
import subprocess
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Final, cast

from trainer import own_process
from trainer.listening.judge_worker import LENGTH_BYTES, PART, SharedPart, packed, unpacked
from trainer.listening.judging import Judgement
from trainer.listening.live_judge import LocalJudge, Question, WorkerMistake, WorkerProblems
from trainer.listening.midi_take import MidiTake
from trainer.listening.sound import Samples
from trainer.listening.take_info import TakeInfo
from trainer.music.problem import ProblemsError

TAKING: Final = 60.0
"""Seconds in which the process must have room for more, or have an answer; it judges ten minutes in a few."""
CLOSING: Final = 2.0
PIPE_BYTES: Final = 1 << 20
"""Room in either pipe: neither waits for the other in the middle of a piece of sound or of a judgement."""


class JudgeWorkerError(Exception):
    """A mistake of ours in the process that judges; its notes tell how it came about."""


class WorkerJudge:
    """Judges in a process of its own. Should that be lost, everything is done here from then on."""

    def __init__(self) -> None:
        """Start the process; it is ready when it answers first, which nobody waits for."""
        self._here: LocalJudge | None = None
        self._rate = 0
        self._again: Callable[[], Samples] | None = None
        self._known: SharedPart | None = None
        """The part of which was asked last."""
        self._unread = 0
        """Answers to looks that have not been read."""
        self._process = own_process.start("trainer.listening.judge_worker", environment=ONE_THREAD)
        self._to = cast(IO[bytes], self._process.stdin)
        self._from = cast(IO[bytes], self._process.stdout)
        os.set_blocking(self._to.fileno(), False)
        for pipe in (self._to, self._from):
            _widen(pipe)

    def begin(self, rate: int, again: Callable[[], Samples] | None = None) -> None:
        """A new pass's sound comes in; `again` gives all of it that was added, should the process be lost."""
        self._rate, self._again = rate, again
        self._call("begin", rate)

    def add(self, samples: Samples) -> None:
        """More of it."""
        self._call("add", samples)

    def look(self, question: Question) -> None:
        """Hear ahead what has come so far."""
        if self._here is None:
            self._ask_of(question)
            self._call("look", question)
            self._unread += self._here is None

    def looked(self) -> float | None:
        """Where the pass begins as the last look found."""
        found = None
        while self._here is None and self._unread and select.select([self._from], [], [], 0)[0]:
            told = self._answer()
            found = told if isinstance(told, float) else None
        return found

    def judge(self, question: Question, notes: MidiTake | None = None) -> Judgement:
        """The judgement on what came. Raises JudgingMistakeError."""
        self._ask_of(question)
        return cast(Judgement, self._ask("judge", question, notes))

    def _ask_of(self, question: Question) -> None:
        """Send the part, unless it was the last one that was sent."""
        if self._known is None or question.written is not self._known.part:
            self._call(PART, question.written)
            self._known = SharedPart(question.written)

    def keep(self, folder: Path, limit_bytes: int, info: TakeInfo, at: datetime) -> None:
        """Keep the take that was judged last. Raises ProblemsError, JudgingMistakeError."""
        self._ask("keep", folder, limit_bytes, info, at)

    def close(self) -> None:
        """End the process. May be called twice."""
        self._to.close()
        try:
            self._process.wait(CLOSING)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._from.close()

    def _instead(self) -> LocalJudge:
        """Judging here, with what the lost process had been given."""
        if self._here is None:
            self._here = LocalJudge()
            if self._rate:
                self._here.begin(self._rate)
            if self._again is not None:
                self._here.add(self._again())
            self._process.kill()
        return self._here

    def _call(self, name: str, *arguments: Any) -> None:
        if self._here is not None:
            if name != PART:
                getattr(self._here, name)(*arguments)
            return
        rest = memoryview(packed((name, arguments), self._known))
        end = time.monotonic() + TAKING
        while rest:
            try:
                rest = rest[os.write(self._to.fileno(), rest) :]
            except BlockingIOError:
                if time.monotonic() > end:
                    self._fail(name, arguments)
                    return
                select.select([], [self._to], [], 0.05)
            except (OSError, ValueError):
                self._fail(name, arguments)
                return

    def _fail(self, name: str, arguments: tuple[Any, ...]) -> None:
        """Carry a call out here that the process did not take."""
        here = self._instead()
        if name == "begin":
            here.begin(*arguments)
        elif name == "add":
            here.add(*arguments)

    def _ask(self, name: str, *arguments: Any) -> Any:
        """Call, and wait for the answer. Raises ProblemsError, JudgingMistakeError."""
        self._call(name, *arguments)
        if self._here is not None:
            return getattr(self._here, name)(*arguments)
        while self._unread and self._here is None:
            self._answer()
        told = self._answer() if self._here is None else None
        if self._here is not None:
            return getattr(self._here, name)(*arguments)
        if isinstance(told, WorkerProblems):
            raise ProblemsError(told.problems)
        if isinstance(told, WorkerMistake):
            mistake = JudgeWorkerError(f"in the process that judges, at “{name}”")
            mistake.add_note(told.how)
            raise mistake
        return told

    def _answer(self) -> Any:
        """The next answer; None, and judging here from now on, where there is none."""
        self._unread = max(0, self._unread - 1)
        try:
            length = int.from_bytes(self._received(LENGTH_BYTES), "little")
            return unpacked(io.BytesIO(self._received(length)), self._known)
        except (EOFError, OSError, ValueError):
            self._instead()
            return None

    def _received(self, length: int) -> bytes:
        """So many bytes of an answer. Raises EOFError where they do not come."""
        got = bytearray()
        while len(got) < length:
            if not select.select([self._from], [], [], TAKING)[0]:
                raise EOFError
            piece = os.read(self._from.fileno(), length - len(got))
            if not piece:
                raise EOFError
            got += piece
        return bytes(got)


def _widen(pipe: IO[bytes]) -> None:
    """Give a pipe more room, where the system can."""
    with suppress(ImportError, AttributeError, OSError):
        import fcntl

        fcntl.fcntl(pipe.fileno(), fcntl.F_SETPIPE_SZ, PIPE_BYTES)


ONE_THREAD: Final = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
"""Its products of matrices are small: more threads would only take time from the sound."""
