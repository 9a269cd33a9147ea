"""Every pass is counted, judged and logged: by the player's word, in time or afterwards, or by a take.

A pass counts some tens of ms before its end (`playback.counting`) and is on disk before the next one sounds. A word
said until then is in what is logged; one said later amends it. Either way the ladder's next pass follows it, up to the
last moment at which the sink can still be told.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from uuid import uuid4

from trainer.playback.share import PassReport
from trainer.practice.breaks import BreakWatch
from trainer.practice.days import practice_day
from trainer.practice.deciding import Decides, decided
from trainer.practice.goals import Goal
from trainer.practice.loop_ladders import add_loop_pass, keep_loop_ladder
from trainer.practice.passes import Pass
from trainer.practice.verdict import Outcome, Verdict
from trainer.screens.choices import Way
from trainer.screens.sounded import Sounded
from trainer.screens.standing import Done, Standing
from trainer.screens.stood import Stood
from trainer.screens.wiring import Sounding, Wiring

AWAITED = 8
"""Passes whose takes may still be judged."""

Passed = Callable[[Pass, PassReport, float], None]
"""Gets a pass that counts, how it was timed, and how many seconds ago it began to sound; in the player's thread."""


class Judged(Sounded):
    """A riff or form on the stand, with the passes that are played of it."""

    def __init__(
        self,
        wiring: Wiring,
        stood: Stood,
        sounding: Sounding,
        *,
        changed: Callable[[], None],
        tell: Callable[[str], None],
    ) -> None:
        """Put it on the stand, as `Sounded` does. Raises ProblemsError."""
        self.decides = Decides.KEY
        """Whose word counts; a take's only while somebody listens."""
        self.passed: Passed = lambda played, report, ago_seconds: None
        self.settled: Callable[[Outcome], None] = lambda outcome: None
        """Called when it is known how the last pass counts, otherwise than by `judge`; from any thread."""
        self.breaks = BreakWatch()
        self._awaited: dict[str, Done] = {}
        self._stopped_at = wiring.clock()
        super().__init__(wiring, stood, sounding, changed=changed, tell=tell)

    def judge(self, outcome: Outcome) -> str:
        """Say how a pass went: this one when half of it is over, else the one before. Returns which it was."""
        if self.decides is Decides.TAKE:
            return "The take decides. D gives the key a word."
        with self._changing():
            standing, head = self._standing, self.playhead()
            late = head.playing and head.share_played >= Fraction(1, 2)
            if late and head.began not in (None, standing.counted):
                self._standing = replace(standing, pending=outcome)
                self.player.change(lambda transport: transport.ask_again())
                said = f"This pass: {outcome}."
            elif standing.last is not None:
                said = f"{'This' if late else 'The last'} pass: {outcome}.{_off_the_rung(standing.last)}"
                self._judge_last(replace(standing.last, said=outcome))
            else:
                said = "Play a pass first: then say how it went."
        self._changed()
        return said

    def take_verdict(self, uuid: str, verdict: Verdict) -> None:
        """A pass was judged by its take, after it was logged; from any thread.

        Args:
            uuid: the pass's.
            verdict: the take's.
        """
        found: Outcome | None = None
        with self._changing():
            last, done = self._standing.last, self._awaited.pop(uuid, None)
            if last is not None and last.played.uuid == uuid:
                self._judge_last(replace(last, heard=verdict))
                found = decided(self.decides, last.said, verdict).outcome
            elif done is not None:
                self._reached(self.wiring.log.amend(uuid, decided(self.decides, done.said, verdict)))
        if found is not None:
            self.settled(found)
        self._changed()

    def _judge_last(self, last: Done) -> None:
        verdict = decided(self.decides, last.said, last.heard)
        outcome, before = verdict.outcome, self._standing
        same = outcome is last.played.verdict.outcome
        played = replace(last.played, verdict=verdict)
        if played.uuid in self._awaited:
            self._awaited[played.uuid] = last
        if same:
            self._standing = replace(before, last=replace(last, played=played))
            self._reached(self.wiring.log.amend(played.uuid, verdict))
            return
        progress = last.before.after(outcome, last.way, played.tempo_bpm)
        position = progress.ladder.as_dict()
        if played.line.part != before.mine:
            progress = progress.traded()
        self._standing = replace(before, progress=progress, last=replace(last, played=played))
        self._reached(self.wiring.log.amend(played.uuid, verdict))
        if before.choices.way is Way.LADDER:
            at_ms = round(self.wiring.now().timestamp() * 1000)
            self.wiring.log.change(keep_loop_ladder, played.line, before.loop_bars, position, at_ms)
        head = self.playhead()
        if not self.running or head.counting_in:
            self._follow_loop(before)
            share = self._standing.share
            self.player.change(lambda transport: transport.set_share(share))
        if not (head.playing and head.began == before.counted):  # else its last stroke sounds as it was
            mix = self._standing.mix
            self.player.change(lambda transport: transport.set_mix(mix))
        self.player.change(lambda transport: transport.ask_again())

    def _word(self, standing: Standing) -> Outcome:
        return decided(self.decides, standing.pending or Outcome.UNJUDGED, None).outcome

    def _passed(self, report: PassReport) -> None:
        with self._lock:
            standing = self._standing
            outcome = self._word(standing)
            loop = standing.loop
            over = self.wiring.now() - timedelta(seconds=self._seconds_since(report.end))
            seconds = float((report.end - report.start) / self.player.rate)
            tempo = float(report.share * standing.stood.target_bpm)
            played = Pass(
                uuid4().hex,
                over,
                practice_day(over),
                standing.stood.line(standing.mine),
                standing.stood.digest,
                loop.first + 1,
                loop.last + 1,
                standing.whole,
                tempo,
                max(0.0, seconds),
                Verdict(outcome),
                str(standing.choices.way) or ("form" if not standing.stood.riff else ""),
            )
            done = Done(played, standing.progress, standing.choices.way, standing.pending or Outcome.UNJUDGED)
            self._await(done)
            self._standing = replace(standing.after(outcome, tempo), last=done, counted=report.start)
            moved = standing.progress.after(outcome, standing.choices.way, tempo).ladder
            ladder = moved.as_dict() if standing.choices.way is Way.LADDER else None
            log = self.wiring.log
            reached = log.change(add_loop_pass, played, standing.loop_bars, ladder, self._place(), log.sitting)
            self.breaks = self.breaks.after_play(max(0.0, seconds))
            self._keep()
            self._reached(reached)
        self.passed(played, report, self._seconds_since(report.start))
        self.settled(outcome)
        self._changed()

    @property
    def off_the_rung(self) -> str:
        """Why the last pass does not move the ladder; empty where it may."""
        return _off_the_rung(self._standing.last) if self._standing.last is not None else ""

    def _await(self, done: Done) -> None:
        self._awaited[done.played.uuid] = done
        while len(self._awaited) > AWAITED:
            del self._awaited[next(iter(self._awaited))]

    def _reached(self, goals: Iterable[Goal]) -> None:
        for goal in goals:
            self.tell(f"A goal is reached: {goal.target_bpm:g} bpm, {goal.line.part}.")


def _off_the_rung(last: Done) -> str:
    """Why a pass does not move the ladder; empty where it may."""
    rung = last.before.ladder.rung.tempo_bpm
    if last.way is not Way.LADDER or round(last.played.tempo_bpm) == rung:
        return ""
    return f" It was played at {last.played.tempo_bpm:g} bpm, not at the rung's {rung}: the ladder stays."
