"""One pass that was just played: judged, told, kept and logged."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from trainer.commands.record import now
from trainer.commands.subject import Subject
from trainer.commands.telling import plain, tell
from trainer.commands.terminal import complain, say, say_json_line
from trainer.listening.judging import Judgement, unjudged
from trainer.listening.midi_take import MidiTake
from trainer.listening.pass_judging import judge_cut_pass
from trainer.listening.sound import Sound
from trainer.music.problem import ProblemsError
from trainer.practice.days import practice_day
from trainer.practice.digest import digest_of
from trainer.practice.line import Line
from trainer.practice.passes import Pass
from trainer.practice.verdict import Outcome

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.takes import Takes
    from trainer.listening.written import Written
    from trainer.practice.log import Log


@dataclass(frozen=True, slots=True)
class HeardPass:
    """The take of one pass, cut from what came in."""

    number: int
    take: Sound | MidiTake
    begins_s: float
    """Second of the take at which the pass begins, as far as that is known."""
    known: bool
    """Whether calibration tells it."""
    tempo_bpm: Fraction
    seconds: float
    """How long the pass lasts as it is written."""
    ended: float
    """When its last note's end had come in, on the system's steady clock."""
    loop: Sound | None = None
    """What was played meanwhile."""
    overruns: int = 0
    """In this pass."""
    within_ms: float = 0.0
    """How far the begin that calibration tells may be wrong."""
    cut_short: bool = False
    """Whether the device vanished before the pass was over."""


def judge_pass(heard: HeardPass, written: "Written", bands: "Bands") -> Judgement:
    """The judgement on one pass; what may have spoilt it is `warned_of`'s to tell."""
    judgement = judge_cut_pass(heard.take, heard.begins_s, written, bands, known=heard.known, within_ms=heard.within_ms)
    return replace(judgement, warnings=())


def warned_of(heard: HeardPass) -> tuple[str, ...]:
    """What may have spoilt it: clipping, the loop in the microphone, dropped frames, a device that vanished."""
    told: tuple[str, ...] = ()
    if isinstance(heard.take, Sound):
        from trainer.listening.soundness import refusal, warnings

        told = () if refusal(heard.take) else warnings(heard.take, heard.loop)
    if heard.overruns:
        times = "once" if heard.overruns == 1 else f"{heard.overruns} times"
        told += (f"The sound card dropped frames {times} in this pass: close other programs, or ask for less.",)
    return told


@dataclass(slots=True)
class Keeper:
    """Tells, keeps and logs one pass after another."""

    subject: Subject
    part: str
    bands: "Bands"
    takes: "Takes"
    log: "Log"
    about: Mapping[str, Any]
    as_json: bool = False
    judged: int = 0
    clean: int = 0
    _written: "dict[Fraction, Written]" = field(default_factory=dict)
    _said: set[str] = field(default_factory=set)

    def written(self, tempo: Fraction) -> "Written":
        """The strokes of a pass at a tempo."""
        if tempo not in self._written:
            self._written[tempo] = self.subject.written(self.part, tempo)
        return self._written[tempo]

    def warm_up(self, tempo: Fraction, rate: int) -> None:
        """Judge a second of nothing much, so that the first verdict does not wait for imports and tables."""
        import numpy as np

        noise = np.random.default_rng(1).normal(0, 0.01, rate).astype(np.float32)
        written = self.written(tempo)
        judge_pass(HeardPass(0, Sound(noise, rate), 0.0, False, tempo, 1.0, 0.0), written, self.bands)

    def take(self, heard: HeardPass) -> Judgement:
        """Judge a pass, say what there is to say, then keep and log it."""
        judgement = judge_pass(heard, self.written(heard.tempo_bpm), self.bands)
        if heard.overruns and judgement.verdict.outcome is Outcome.MISSED:
            judgement = unjudged("The sound card dropped frames, so what is missing may not be your fault.")
        after = time.monotonic() - heard.ended
        title = f"Pass {heard.number}, {self.subject.said(self.part, float(heard.tempo_bpm))}"
        if not self.as_json:
            tell(judgement, f"{title}{' (cut short)' if heard.cut_short else ''}")
        warned = warned_of(heard)
        if self.as_json:
            about = {"pass": heard.number, "part": self.part, "tempo_bpm": float(heard.tempo_bpm)}
            told = plain(judgement, **about, after_s=round(after, 3), overruns=heard.overruns)
            say_json_line({**told, "warnings": [*told["warnings"], *warned]})
        else:
            for sentence in warned:
                if sentence not in self._said:
                    say(f"  {sentence}")
        self._said.update(warned)
        if judgement.verdict.counts and not heard.cut_short:
            self.judged += 1
            self.clean += judgement.verdict.outcome is Outcome.CLEAN
        self._keep(heard, judgement)
        if not heard.cut_short:
            self._log(heard, judgement)
        return judgement

    def _keep(self, heard: HeardPass, judgement: Judgement) -> None:
        performance = judgement.performance
        start = performance.start_s if performance and judgement.verdict.counts else heard.begins_s
        first, last = self.subject.bars
        values = {
            **self.about, "exercise": self.subject.exercise.id, "riff": self.subject.riff.name, "part": self.part,
            "tempo_bpm": float(heard.tempo_bpm), "first_bar": first, "last_bar": last, "passes": 1,
            "start_s": round(start, 6), "start_known": heard.known,
        }  # fmt: skip
        try:
            self.takes.keep(heard.take, judgement, values, now(), self.bands)
        except ProblemsError as error:
            said = str(error.problems[0])
            if said not in self._said:
                complain(said)
            self._said.add(said)

    def _log(self, heard: HeardPass, judgement: Judgement) -> None:
        at, (first, last) = now(), self.subject.bars
        played = Pass(
            uuid4().hex, at, practice_day(at), Line(self.subject.exercise.id, self.subject.riff.name, self.part),
            digest_of((self.subject.riff,)), first, last, self.subject.whole, float(heard.tempo_bpm),
            heard.seconds, judgement.verdict,
        )  # fmt: skip
        for goal in self.log.add(played):
            if not self.as_json:
                say(f"  A goal is reached: {goal.target_bpm:g} bpm, {goal.line.part}.")
