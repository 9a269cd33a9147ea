"""A practice session: what a player does becomes what sounds, every pass is judged and logged, a listener is told.

`PracticeSession.apply` takes an action, makes the next state of it (`transitions`), and lets the player and its
transport take over what differs. It needs no screen: a command that plays is a session too.

**Threads.** The state is one frozen value, replaced under the session's lock, which any thread may read without it.
Locks are taken in one order: the session's, the player's, the transport's. What the transport asks from within itself
(`_next_share`) takes none. Events are told after the session's lock is released, in the thread that caused them, so a
listener may call back; waiting for the listening engine to end is done without a lock, as its thread takes this one.

**Passes.** A pass counts some tens of ms before its end (`playback.counting`) and is on disk before the next one
sounds. A word said until then is in what is logged; one said later amends it. Either way the ladder's next pass follows
it, up to the last moment at which the sink can still be told.
"""

import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from typing import TYPE_CHECKING
from uuid import uuid4

from trainer.music.problem import ProblemsError
from trainer.playback.plan import Plan
from trainer.playback.share import PassReport
from trainer.playback.sink import SinkGoneError
from trainer.playback.timeline import Timeline
from trainer.practice.cautions import BreakWatch, Where
from trainer.practice.days import practice_day
from trainer.practice.goals import Goal
from trainer.practice.ladder import Word, sentence
from trainer.practice.loop_ladders import add_loop_pass, keep_loop_ladder
from trainer.practice.passes import Pass
from trainer.practice.sittings import Place, use_port
from trainer.practice.verdict import Decides, Outcome, Verdict, decided
from trainer.session.actions import (
    Finish,
    FromTheTop,
    JudgePass,
    SessionAction,
    SetDecides,
    Start,
    StartStop,
    Stop,
)
from trainer.session.choices import Method
from trainer.session.events import (
    BreakDue,
    Changed,
    InputGone,
    PassCounted,
    PassHeard,
    PassSettled,
    Reply,
    SessionEvent,
    Told,
)
from trainer.session.ladders import as_left, with_ladders
from trainer.session.live_listening import LiveListening, OpenInput
from trainer.session.machine import Machine, Sounding
from trainer.session.memory import DECIDES
from trainer.session.music import LoadedExercise
from trainer.session.player import Player
from trainer.session.playhead import Playhead, playhead
from trainer.session.state import (
    LastPass,
    PlayedMusic,
    SessionState,
    music_of,
    plan_of,
    plays_other_music,
)
from trainer.session.transitions import act
from trainer.sounds.click_pattern import ClickPattern

if TYPE_CHECKING:
    from trainer.session.heard_pass import JudgedPass

AWAITED = 8
"""Passes whose recordings may still be judged."""


class PracticeSession:
    """One riff or form of an exercise, being practised."""

    def __init__(
        self,
        machine: Machine,
        loaded: LoadedExercise,
        sounding: Sounding,
        hear: Callable[[SessionEvent], None] = lambda event: None,
        *,
        state: SessionState | None = None,
        passes: int | None = None,
    ) -> None:
        """Begin, without playing yet.

        Args:
            machine: log, memory, clocks, patches.
            loaded: what is practised.
            sounding: where it sounds; it is closed with the session.
            hear: told every event, in any thread.
            state: how to begin; None for everything as the player left it.
            passes: how many passes are played before it stops by itself; None: until it is stopped.

        Raises:
            ProblemsError: a patch that the parts ask for is missing.
        """
        self.machine, self._hear, self._passes = machine, hear, passes
        self.breaks = BreakWatch()
        self._lock = threading.RLock()
        self._held = 0
        self._last_pass: int | None = None
        """The number of the pass after which it stops, because the player has turned to something else."""
        self._events: list[SessionEvent] = []
        self._awaited: dict[str, LastPass] = {}
        self._stopped_at = machine.clock()
        self._state = self._before = as_left(loaded, machine) if state is None else state
        self._music, timeline = self._compiled(self._state)
        self.player = Player(sounding, on_end=self._ended, on_gone=self._gone)
        self.listening = LiveListening(
            machine, self.player, lambda: self._state, lambda: self._click(self._state),
            heard=self._heard, tell=lambda said: hear(Told(said)), gone=self._input_gone,
        )  # fmt: skip
        self._remember_port()
        self._put_on(timeline)

    @property
    def state(self) -> SessionState:
        """The state now."""
        return self._state

    @property
    def running(self) -> bool:
        """Whether it plays or counts in."""
        return self.player.running

    @property
    def sounding(self) -> Sounding:
        """Where it sounds now."""
        return self.player.sounding

    def playhead(self) -> Playhead:
        """Where the sound is that is heard now."""
        state, music = self._state, self._music
        if music.building is not None:  # what is built may have grown already while its last stroke sounds
            state = replace(state, progress=replace(state.progress, building=music.building))
        return playhead(state, self.player.position(), music.offset, self.sounding.latency_seconds)

    def apply(self, action: SessionAction) -> Reply:
        """Do what the player asks for: what it changes is heard at once. Returns what to answer."""
        with self._changing() as before:
            match action:
                case StartStop():
                    return self._stop() if self.running else self._start()
                case Start():
                    return self._start()
                case Stop() | Finish():
                    return self._stop() if isinstance(action, Stop) else self._finish()
                case FromTheTop():
                    return self._from_the_top()
                case JudgePass(outcome):
                    return self._judge(outcome)
            after, reply = act(before, action, self.machine.rig.click_pattern_names)
            if (after.chosen_loop, after.mine) != (before.chosen_loop, before.mine):
                after = with_ladders(replace(after, last=None), self.machine.log, practice_day(self.machine.now()))
            self._state = after
            self._carry_out(before, after)
            if isinstance(action, SetDecides):
                self.machine.memory.put(DECIDES, str(after.decides))
            self._keep()
            return reply

    def load(self, loaded: LoadedExercise) -> None:
        """Practise something else, from where the player left it. Raises ProblemsError; nothing has changed then."""
        with self._changing() as before:
            after = replace(as_left(loaded, self.machine), listening=before.listening)
            music, timeline = self._compiled(after)
            self._stop()
            self._state, self._music = after, music
            self._put_on(timeline)
            self._keep()

    def revise(self, loaded: LoadedExercise, before: LoadedExercise) -> bool:
        """Take over the same riff or form as it is written now, with the same bars: all else stays, and it plays on.

        May be called from any thread.

        Args:
            loaded: what is to be practised.
            before: what it takes the place of.

        Returns:
            False when something else has been loaded meanwhile: that stays.

        Raises:
            ProblemsError: it cannot be played; nothing has changed then.
        """
        with self._changing() as state:
            if state.loaded is not before:
                return False
            after = replace(state, loaded=loaded, progress=state.progress.on(loaded.rules))
            music, timeline = self._compiled(after)
            self._state, self._music = after, music
            self.player.exchange(timeline)
            self._carry_out(state, after)
        return True

    def use(self, sounding: Sounding) -> None:
        """Sound somewhere else from now on; it is stopped."""
        with self._changing():
            self.player.use(sounding)
            self._remember_port()

    def close(self) -> None:
        """End playing and listening, all notes off, and keep where the player was."""
        self.listening.end(wait=True)
        with self._changing():
            self._keep()
        self.player.close()

    # -- listening ----------------------------------------------------------------------------------------------

    def listen(self, opened: OpenInput) -> None:
        """Listen to an input and judge every pass by it; `live_listening.open_input` opens one."""
        with self._changing() as state:
            self._state = replace(state, listening=True)
        self.listening.begin(opened)

    def stop_listening(self) -> None:
        """Close the input, what was heard of the pass that is played judged and kept; the key decides from now on."""
        self.listening.end()
        with self._changing() as state:
            self._state = replace(state, listening=False)

    def _input_gone(self, sentence: str) -> None:
        with self._changing() as state:
            self._state = replace(state, listening=False)
            self._events.append(InputGone(sentence))

    def _heard(self, heard: "JudgedPass") -> None:
        """A recording was judged; in the engine's thread."""
        with self._changing():
            if heard.of.played is not None:
                self._settle_by_take(heard.of.played.uuid, heard.judgement.verdict)
            self._events.append(PassHeard(heard))

    # -- playing ------------------------------------------------------------------------------------------------

    def _start(self) -> Reply:
        if self.running:
            return Reply("")
        self.breaks = self.breaks.after_rest(self.machine.clock() - self._stopped_at)
        self._play()
        self._stopped_at = self.machine.clock()
        return Reply("", caution=Where.BEFORE_PLAYING)

    def _stop(self) -> Reply:
        self.player.stop()
        self.player.tell()
        self._stopped_at = self.machine.clock()
        return Reply("")

    def _finish(self) -> Reply:
        """Let the pass that is played be the last one."""
        head = self.playhead()
        if not head.playing:
            return self._stop() if self.running else Reply()
        counted = head.began is not None and head.began == self._state.counted  # its last stroke sounds
        self._last_pass = self._state.passes + (not counted)
        self.player.change(lambda transport: transport.ask_again())
        return Reply()

    def _from_the_top(self) -> Reply:
        running = self.running
        self.player.rewind()
        self.player.tell()
        if running:
            self._play()
        return Reply()

    def _play(self) -> None:
        """Begin to play, or go on: as the state has it now, which may have moved on since it was stopped."""
        state, self._last_pass = self._state, None
        if self._music.building != music_of(state).building:
            self._load()
        plan = self._plan(state)
        self.player.change(lambda transport: transport.change(plan))
        self.player.play()

    def _carry_out(self, before: SessionState, after: SessionState) -> None:
        """Let the transport play what one state has and the other has not."""
        if plays_other_music(before, after):
            running = self.running
            self._load()
            if running:
                self.player.play()
        else:
            self.player.change_plan(self._plan(before), self._plan(after))

    def _load(self) -> None:
        """A new transport for what is played now."""
        self._music, timeline = self._compiled(self._state)
        self._put_on(timeline)

    def _compiled(self, state: SessionState) -> tuple[PlayedMusic, Timeline]:
        music = music_of(state)
        return music, Timeline.of(music.piece, self.machine.rig)

    def _put_on(self, timeline: Timeline) -> None:
        self.player.load(timeline, self._plan(self._state), self._next_share, self._passed)

    def _plan(self, state: SessionState) -> Plan:
        loop = self._music.loop if self._music.building is not None else state.loop
        return plan_of(state, self._click(state), loop)

    def _click(self, state: SessionState) -> ClickPattern | None:
        """The click's pattern; None for no click."""
        name = state.choices.click
        try:
            return self.machine.rig.click_pattern(name) if name else None
        except ProblemsError:
            return None

    # -- from the transport's thread ----------------------------------------------------------------------------

    def _next_share(self, report: PassReport) -> Fraction | None:
        """The share of the pass after one; the word on that may have come before it counted, or after."""
        state = after = self._state
        if state.counted != report.start:
            after = state.after(self._word(state), report.share * state.loaded.target_bpm)
        if after.apart or self._enough(after):
            return None
        self.player.prepare_next(after.loop, after.mix)
        return after.share

    def _ended(self) -> None:
        """All passes of the transport are over: the next one is counted in, unless it was the last."""
        with self._changing(count=False) as state:
            burst = state.progress.burst
            if state.choices.method is Method.BURST and burst is not None and burst.done:
                self.player.stop()
                self._tell("Clean bursts enough." if burst.won else "Bursts enough for now: rest the hand.")
            elif self._enough(state):
                self.player.stop()
            else:
                self._load()
                self.player.play()

    def _enough(self, state: SessionState) -> bool:
        """Whether as many passes were played as were asked for, or this was to be the last one."""
        return any(most is not None and state.passes >= most for most in (self._passes, self._last_pass))

    def _gone(self, sentence: str) -> None:
        """The sink is gone: it goes on in silence. The player holds its own lock here, so this takes none."""
        self._hear(Told(f"{sentence} The stand goes on in silence; press y to open the sound again."))
        self._hear(Changed(self._state, self._state))

    def _passed(self, report: PassReport) -> None:
        """A pass counts: log it, and move on to the next one."""
        with self._changing(count=False) as state:
            outcome = self._word(state)
            loop = state.loop
            over = self.machine.now() - timedelta(seconds=self._seconds_since(report.end))
            seconds = max(0.0, float((report.end - report.start) / self.player.rate))
            tempo = report.share * state.loaded.target_bpm
            played = Pass(
                uuid4().hex,
                over,
                practice_day(over),
                state.loaded.line(state.mine),
                state.loaded.digest,
                loop.first + 1,
                loop.last + 1,
                state.whole,
                float(tempo),
                seconds,
                Verdict(outcome),
                str(state.choices.method) or ("form" if not state.loaded.riff else ""),
            )
            done = LastPass(played, state.progress, state.choices.method, state.pending or Outcome.UNJUDGED)
            self._await(done)
            self._state = replace(state.after(outcome, tempo), last=done, counted=report.start)
            moved = state.progress.after(outcome, state.choices.method, tempo).ladder
            ladder = moved.as_dict() if state.choices.method is Method.LADDER else None
            log = self.machine.log
            reached = log.change(add_loop_pass, played, state.loop_bars, ladder, self._place(), log.sitting)
            self.breaks = self.breaks.after_play(seconds)
            self._keep()
            self._reached(reached)
            self.listening.pass_over(state, played, report, self._seconds_since(report.start))
            self._events.append(PassCounted(played, report))
            self._settled(outcome)

    # -- judging ------------------------------------------------------------------------------------------------

    def _judge(self, outcome: Outcome) -> Reply:
        """Judge the pass that plays when half of it is over, else the one before."""
        state, head = self._state, self.playhead()
        if state.decider is Decides.TAKE:
            return Reply("The recording judges. Press D to judge for yourself.")
        late = head.playing and head.share_played >= Fraction(1, 2)
        if late and head.began not in (None, state.counted):
            self._state = replace(state, pending=outcome)
            self.player.change(lambda transport: transport.ask_again())
            said = f"Pass {state.passes + 1}: {outcome}."
        elif state.last is not None:
            said = f"Pass {state.passes}: {outcome}.{state.last.off_the_rung}"
            self._judge_last(replace(state.last, said=outcome))
        else:
            said = "Play a pass first: then say how it went."
        return Reply(said) if self._state.pending is not None else self._with_ladder(said, outcome)

    def _settle_by_take(self, uuid: str, verdict: Verdict) -> None:
        """Judge a pass by its recording, after it was logged."""
        last, done, decider = self._state.last, self._awaited.pop(uuid, None), self._state.decider
        if last is not None and last.played.uuid == uuid:
            self._judge_last(replace(last, heard=verdict))
            self._settled(decided(decider, last.said, verdict).outcome)
        elif done is not None:
            self._reached(self.machine.log.amend(uuid, decided(decider, done.said, verdict)))

    def _judge_last(self, last: LastPass) -> None:
        """Take over another verdict on the last pass, in the log and in what comes next."""
        before = self._state
        verdict = decided(before.decider, last.said, last.heard)
        same = verdict.outcome is last.played.verdict.outcome
        played = replace(last.played, verdict=verdict)
        if played.uuid in self._awaited:
            self._awaited[played.uuid] = last
        if same:
            self._state = replace(before, last=replace(last, played=played))
            self._reached(self.machine.log.amend(played.uuid, verdict))
            return
        progress = last.before.after(verdict.outcome, last.method, Fraction(played.tempo_bpm))
        position = progress.ladder.as_dict()
        if played.line.part != before.mine:
            progress = progress.traded()
        self._state = after = replace(before, progress=progress, last=replace(last, played=played))
        self._reached(self.machine.log.amend(played.uuid, verdict))
        if before.choices.method is Method.LADDER:
            at_ms = round(self.machine.now().timestamp() * 1000)
            self.machine.log.change(keep_loop_ladder, played.line, before.loop_bars, position, at_ms)
        head = self.playhead()
        sounds_on = head.playing and head.began == before.counted  # its last stroke, which stays as it was
        if not self.running or head.counting_in:
            self._carry_out(before, after)
        elif not sounds_on:
            self.player.change_plan(self._plan(before), replace(self._plan(before), mix=after.mix))
        self.player.change(lambda transport: transport.ask_again())

    def _word(self, state: SessionState) -> Outcome:
        """How the pass that is played counts as far as is known."""
        return decided(state.decider, state.pending or Outcome.UNJUDGED, None).outcome

    def _settled(self, outcome: Outcome) -> None:
        """Tell what follows from the last pass."""
        last = self._state.last
        if outcome is Outcome.UNJUDGED or last is None:
            self._events.append(PassSettled(outcome, ""))
            return
        reply = self._with_ladder(f"Pass {self._state.passes}: {outcome}.{last.off_the_rung}", outcome)
        self._events.append(PassSettled(outcome, reply.said or "", reply.caution))

    def _with_ladder(self, said: str, outcome: Outcome) -> Reply:
        """What was said of a pass, and what the ladder makes of it where it moves; the outcome only once."""
        state, ladder = self._state, self._state.progress.ladder
        stays = state.last is not None and state.last.off_the_rung
        if state.choices.method is not Method.LADDER or not ladder.turn or stays:
            return Reply(said)
        caution = Where.NOT_NOW if ladder.word is Word.NOT_NOW else None
        return Reply(f"{said} {sentence(ladder).removeprefix(f'{outcome.capitalize()}. ')}", caution=caution)

    def _await(self, done: LastPass) -> None:
        self._awaited[done.played.uuid] = done
        while len(self._awaited) > AWAITED:
            del self._awaited[next(iter(self._awaited))]

    def _reached(self, goals: Iterable[Goal]) -> None:
        for goal in goals:
            self._tell(f"A goal is reached: {goal.target_bpm:g} bpm, {goal.line.part}.")

    # -- inside -------------------------------------------------------------------------------------------------

    @contextmanager
    def _changing(self, *, count: bool = True) -> Iterator[SessionState]:
        """Give the state to the caller alone; what is to be told is told after the lock is released.

        Args:
            count: count passes first that count by now. Not from the transport's own callbacks.
        """
        self._lock.acquire()
        self._held += 1
        if self._held == 1:
            self._before = self._state
        events: list[SessionEvent] = []
        try:
            if count:
                self.player.tell()
            yield self._state
        finally:
            self._held -= 1
            if not self._held:
                events, self._events = self._events, []
                events.append(Changed(self._before, self._state))
                if self.breaks.due:
                    self.breaks = self.breaks.later()
                    events.append(BreakDue())
            self._lock.release()
            for event in events:
                self._hear(event)

    def _tell(self, sentence: str) -> None:
        """Say something to the player, once the lock is released."""
        self._events.append(Told(sentence))

    def _seconds_since(self, frame: Fraction) -> float:
        """How long ago a frame was heard; less than 0 for one that is to come."""
        sounding = self.sounding
        with suppress(SinkGoneError):
            return float(sounding.sink.now() - frame) / sounding.sink.rate - sounding.latency_seconds
        return 0.0

    def _place(self) -> Place:
        state = self._state
        heard = tuple(name for name in state.loaded.heard if name not in state.choices.unheard)
        return Place(
            state.loaded.line(state.mine),
            state.choices.first + 1,
            state.choices.last + 1,
            float(state.tempo_bpm),
            self.sounding.port,
            str(state.choices.method),
            heard if state.choices.unheard else (),
        )

    def _keep(self) -> None:
        """Remember the choices for the next start."""
        state = self._state
        bpm = state.tempo_bpm if state.choices.method is Method.LADDER else state.choices.bpm
        self.machine.memory.keep(state.loaded.exercise.id, state.loaded.riff, replace(state.choices, bpm=bpm))

    def _remember_port(self) -> None:
        if self.sounding.port:
            self.machine.log.change(use_port, self.machine.log.sitting, self.sounding.port)
