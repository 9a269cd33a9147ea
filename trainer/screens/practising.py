"""Practising on the stand: what the player does becomes what sounds, and every pass is judged and logged.

The state is one frozen value (`Standing`). The player's thread changes it under a lock; the transport's thread reads
it when the look-ahead reaches the next pass. Locks are taken in one order: this one, the player's, the transport's;
what the transport asks from within itself (`_next_share`) takes none.
"""

import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from uuid import uuid4

from trainer.music.problem import ProblemsError
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.share import PassReport
from trainer.playback.sink import SinkGoneError
from trainer.playback.timeline import Timeline
from trainer.practice import reading
from trainer.practice.breaks import BreakWatch
from trainer.practice.burst import Burst
from trainer.practice.days import practice_day
from trainer.practice.deciding import Decides, decided
from trainer.practice.fading import FadingGuide
from trainer.practice.goals import Goal
from trainer.practice.ladder import Ladder
from trainer.practice.passes import Pass
from trainer.practice.recording import keep_ladder
from trainer.practice.sittings import Place, use_port
from trainer.practice.verdict import Outcome, Verdict
from trainer.screens.built_riff import built_riff
from trainer.screens.choices import Begin, Choices, Way, share_of
from trainer.screens.loop_moves import MOVES
from trainer.screens.mixing import traded
from trainer.screens.player import Player
from trainer.screens.playhead import Playhead, playhead
from trainer.screens.progress import Progress
from trainer.screens.standing import BUILDS, Done, Standing, building_for
from trainer.screens.stood import Stood
from trainer.screens.wiring import Sounding, Wiring
from trainer.sounds.click_pattern import ClickPattern

AWAITED = 8
"""Passes whose takes may still be judged."""

Passed = Callable[[Pass, PassReport, float], None]
"""Gets a pass that is over, how it was timed, and how many seconds ago it began to sound; in the player's thread."""


class Practising:
    """One riff or form being practised."""

    def __init__(
        self,
        wiring: Wiring,
        stood: Stood,
        sounding: Sounding,
        *,
        changed: Callable[[], None],
        tell: Callable[[str], None],
    ) -> None:
        """Put it on the stand, with everything as it was left.

        Args:
            wiring: log, memory, clocks, sounds.
            stood: what is practised.
            sounding: where it sounds.
            changed: told, in any thread, that there is something new to show.
            tell: hears sentences for the player, in any thread.

        Raises:
            ProblemsError: a patch that the parts ask for is missing.
        """
        self.wiring, self._changed, self.tell = wiring, changed, tell
        self._lock = threading.RLock()
        self._offset = Fraction(0)
        self._stopped_at = wiring.clock()
        self.decides = Decides.KEY
        """Whose word counts; a take's only while somebody listens."""
        self.passed: Passed = lambda played, report, ago_seconds: None
        self._awaited: dict[str, Done] = {}
        self.breaks = BreakWatch()
        self._standing = self._opened(stood)
        self.player = Player(sounding, on_end=self._ended, on_gone=self._gone)
        self._remember_port()
        self._load()

    @property
    def standing(self) -> Standing:
        """The state now."""
        return self._standing

    @property
    def running(self) -> bool:
        """Whether it plays or counts in."""
        return self.player.running

    def playhead(self) -> Playhead:
        """Where the sound is that is heard now."""
        sounding = self.player.sounding
        return playhead(self._standing, self.player.position(), self._offset, sounding.latency_seconds)

    def open(self, stood: Stood) -> None:
        """Put something else on the stand. Raises ProblemsError."""
        with self._lock:
            self.stop()
            self._standing = self._opened(stood)
            self._load()
            self._keep()

    def revise(self, stood: Stood, before: Stood) -> bool:
        """Put the same riff or form on as it is written now, with the same bars: all else stays, and it plays on.

        May be called from any thread.

        Args:
            stood: what is to stand there.
            before: what it takes the place of.

        Returns:
            False when something else has been put on meanwhile: that stays.

        Raises:
            ProblemsError: it cannot be played; nothing has changed then.
        """
        with self._lock:
            standing = self._standing
            if standing.stood is not before:
                return False
            self._standing = replace(standing, stood=stood)
            try:
                timeline, _ = self._timeline()
            except ProblemsError:
                self._standing = standing
                raise
            self.player.exchange(timeline)
        self._changed()
        return True

    def begin(self, begin: Begin) -> None:
        """Practise what is on the stand as a plan asks for it."""
        self.set_way(begin.way, 0)
        whole, bar = self._standing.stood.whole, begin.bar
        self.set_loop(Loop(bar - 1, bar - 1) if bar is not None and 0 < bar <= whole.last + 1 else whole)
        if begin.tempo_bpm and begin.way is Way.PLAIN:
            self.set_tempo(begin.tempo_bpm)

    def close(self) -> None:
        """End the playing, all notes off, and keep where the player was."""
        self._keep()
        self.player.close()

    # -- playing ------------------------------------------------------------------------------------------------

    def start_stop(self) -> None:
        """Start, or stop."""
        if self.running:
            self.stop()
        else:
            self.start()

    def start(self) -> None:
        """Start with the count-in, if there is one."""
        with self._lock:
            self.breaks = self.breaks.after_rest(self.wiring.clock() - self._stopped_at)
            self.player.play()
            self._stopped_at = self.wiring.clock()
        self._changed()

    def stop(self) -> None:
        """Stop where it is."""
        with self._lock:
            self.player.stop()
            self._stopped_at = self.wiring.clock()
        self._changed()

    def again(self) -> None:
        """Play from the top of the loop, or go back there when nothing plays."""
        with self._lock:
            running = self.running
            self.player.rewind()
            if running:
                self.player.play()
        self._changed()

    # -- what is chosen -----------------------------------------------------------------------------------------

    def choose(self, choices: Choices) -> None:
        """Take over changed choices: what they change in the sound is heard at once."""
        with self._lock:
            before = self._standing
            after = replace(before, choices=choices)
            if choices.mine != before.mine:
                after = self._with_ladder(replace(after, last=None))
            self._standing = after
            if after.mix != before.mix:
                self.player.change(lambda transport: transport.set_mix(after.mix))
            if (choices.click, choices.silent_bars) != (before.choices.click, before.choices.silent_bars):
                pattern = self.click_pattern
                self.player.change(lambda transport: transport.set_click(pattern, after.silent_bars))
            if after.count_in != before.count_in:
                self.player.change(lambda transport: transport.set_count_in(after.count_in))
            if after.share != before.share:
                self.player.change(lambda transport: transport.set_share(after.share))
            self._keep()
        self._changed()

    def set_tempo(self, tempo_bpm: float) -> None:
        """Play at a tempo from now on; the ladder follows."""
        bpm = round(min(max(tempo_bpm, SLOWEST_BPM), FASTEST_BPM), 2)
        with self._lock:
            standing = self._standing
            progress = replace(standing.progress, row=0)
            if standing.choices.way is Way.LADDER:
                progress = replace(progress, ladder=progress.ladder.at(bpm))
            if progress.burst is not None and standing.choices.way is Way.BURST:
                target = bpm / (1 + progress.burst.over / 100)
                progress = replace(progress, burst=replace(progress.burst, target_bpm=target))
            self._standing = replace(standing, progress=progress, choices=replace(standing.choices, bpm=bpm))
            share = self._standing.share
            self.player.change(lambda transport: transport.set_share(share))
            self._keep()
        self._changed()

    def set_loop(self, loop: Loop) -> None:
        """Loop other bars from now on."""
        with self._lock:
            standing = self._standing
            choices = replace(standing.choices, first=loop.first, last=loop.last)
            progress = replace(standing.progress, building=building_for(loop, choices.way), row=0)
            self._standing = self._with_ladder(replace(standing, choices=choices, progress=progress, last=None))
            self._follow_loop(standing)
            self._keep()
        self._changed()

    def move_loop(self, move: str) -> None:
        """Do to the loop what a name of `loop_moves.MOVES` says."""
        self.set_loop(MOVES[move](self._standing.chosen_loop, len(self._standing.stood.piece.bars)))

    def set_way(self, way: Way, bar: int) -> None:
        """Practise in another way; a burst takes the bar with this index."""
        with self._lock:
            before = self._standing
            choices = replace(before.choices, way=way, bpm=before.tempo_bpm if way is Way.PLAIN else before.choices.bpm)
            if before.choices.way is Way.BURST and way is Way.PLAIN:
                choices = replace(choices, bpm=before.choices.bpm)
            burst = Burst(bar + 1, float(before.stood.piece.target_bpm(bar))) if way is Way.BURST else None
            building = building_for(before.chosen_loop, way)
            progress = replace(before.progress, building=building, burst=burst, row=0)
            self._standing = replace(before, choices=choices, progress=progress, passes=0, last=None)
            self._follow_loop(before)
            after = self._standing
            self.player.change(lambda transport: transport.set_share(after.share))
            self.player.change(lambda transport: transport.set_count_in(after.count_in))
            self._keep()
        self._changed()

    def swap(self) -> bool:
        """The guitars trade places; whether there are two."""
        standing = self._standing
        other = standing.stood.other(standing.mine)
        if other:
            self.choose(traded(standing.choices, standing.mine, other))
        return bool(other)

    def use(self, sounding: Sounding) -> None:
        """Sound somewhere else from now on."""
        self.player.use(sounding)
        self._remember_port()
        self._changed()

    @property
    def click_pattern(self) -> ClickPattern | None:
        """The click's pattern; None for no click."""
        name = self._standing.choices.click
        try:
            return self.wiring.rig.click_pattern(name) if name else None
        except ProblemsError:
            return None

    # -- judging ------------------------------------------------------------------------------------------------

    def judge(self, outcome: Outcome) -> str:
        """Say how a pass went: this one when half of it is over, else the one before. Returns which it was."""
        if self.decides is Decides.TAKE:
            return "The take decides. D gives the key a word."
        with self._lock:
            standing, head = self._standing, self.playhead()
            if head.playing and head.share_played >= Fraction(1, 2):
                self._standing = replace(standing, pending=outcome)
                said = f"This pass: {outcome}."
            elif standing.last is not None:
                said = f"The last pass: {outcome}."
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
        with self._lock:
            last, done = self._standing.last, self._awaited.pop(uuid, None)
            if last is not None and last.played.uuid == uuid:
                self._judge_last(replace(last, heard=verdict))
            elif done is not None:
                self._reached(self.wiring.log.amend(uuid, decided(self.decides, done.said, verdict)))
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
        if self._owns_ladder(before):
            self.wiring.log.change(keep_ladder, played.line, position, round(self.wiring.now().timestamp() * 1000))
        if not self.running or self.playhead().counting_in:
            self._follow_loop(before)
            share = self._standing.share
            self.player.change(lambda transport: transport.set_share(share))
        mix = self._standing.mix
        self.player.change(lambda transport: transport.set_mix(mix))

    # -- from the transport's thread ----------------------------------------------------------------------------

    def _next_share(self, report: PassReport) -> Fraction | None:
        standing = self._standing
        tempo_bpm = float(report.share * standing.stood.target_bpm)
        after = standing.after(self._decided(standing), tempo_bpm)
        if after.apart:
            return None
        self.player.prepare_next(after.loop, after.mix)
        return after.share

    def _passed(self, report: PassReport) -> None:
        with self._lock:
            standing = self._standing
            outcome = self._decided(standing)
            now, loop = self.wiring.now(), standing.loop
            seconds = float((report.end - report.start) / self.player.rate)
            tempo = float(report.share * standing.stood.target_bpm)
            played = Pass(
                uuid4().hex,
                now,
                practice_day(now),
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
            self._awaited[played.uuid] = done
            while len(self._awaited) > AWAITED:
                del self._awaited[next(iter(self._awaited))]
            self._standing = replace(standing.after(outcome, tempo), last=done)
            moved = standing.progress.after(outcome, standing.choices.way, tempo).ladder
            ladder = moved.as_dict() if self._owns_ladder(standing) else None
            reached = self.wiring.log.add(played, ladder=ladder, place=self._place())
            self.breaks = self.breaks.after_play(max(0.0, seconds))
            self._keep()
            self._reached(reached)
        self.passed(played, report, self._seconds_since(report.start))
        self._changed()

    def _decided(self, standing: Standing) -> Outcome:
        """How the pass that is played counts as long as no take was judged."""
        return decided(self.decides, standing.pending or Outcome.UNJUDGED, None).outcome

    def _reached(self, goals: Iterable[Goal]) -> None:
        for goal in goals:
            self.tell(f"A goal is reached: {goal.target_bpm:g} bpm, {goal.line.part}.")

    def _seconds_since(self, frame: Fraction) -> float:
        """How long ago a frame was heard."""
        sounding = self.player.sounding
        with suppress(SinkGoneError):
            return float(sounding.sink.now() - frame) / sounding.sink.rate - sounding.latency_seconds
        return 0.0

    def _ended(self) -> None:
        """All passes of the transport are over: the next one is counted in."""
        with self._lock:
            standing = self._standing
            burst = standing.progress.burst
            over = standing.choices.way is Way.BURST and burst is not None and burst.done
            if over and burst is not None:
                self.player.stop()
                self.tell("Clean bursts enough." if burst.won else "Bursts enough for now: rest the hand.")
            else:
                self._load()
                self.player.play()
        self._changed()

    def _gone(self, sentence: str) -> None:
        self.tell(f"{sentence} The stand goes on in silence.")
        self._changed()

    # -- inside -------------------------------------------------------------------------------------------------

    def _opened(self, stood: Stood) -> Standing:
        kept = self.wiring.memory.choices(stood.exercise.id, stood.riff)
        choices = kept or Choices(count_in=1)
        bars = len(stood.piece.bars)
        mine = choices.mine if choices.mine in stood.parts else stood.guitars[0] if stood.guitars else stood.parts[0]
        last = choices.last if choices.first <= choices.last < bars else bars - 1
        first = choices.first if choices.first <= last else 0
        bpm = choices.bpm or stood.rules.start_bpm
        silent = tuple(name for name in choices.unheard if name in stood.heard)
        choices = replace(choices, mine=mine, first=first, last=last, bpm=bpm, unheard=silent)
        ladder = stood.ladder(practice_day(self.wiring.now()), self._kept_ladder(stood, mine), bars)
        progress = Progress(ladder, FadingGuide(), building=building_for(Loop(first, last), choices.way))
        if choices.way is Way.BURST:
            choices = replace(choices, way=Way.PLAIN)
        plain = Standing(stood, replace(choices, way=Way.PLAIN), progress)
        return replace(self._with_ladder(plain), choices=choices)

    def _kept_ladder(self, stood: Stood, mine: str) -> dict[str, object] | None:
        return self.wiring.log.ask(reading.ladder, stood.line(mine))

    def _with_ladder(self, standing: Standing) -> Standing:
        """The ladders of what is looped now: the record's for the whole, else new ones from the tempo of now."""
        mine, other = standing.mine, standing.stood.other(standing.mine)
        progress = replace(
            standing.progress,
            ladder=self._ladder(standing, mine),
            other=self._ladder(standing, other) if other else None,
        )
        return replace(standing, progress=progress)

    def _ladder(self, standing: Standing, part: str) -> Ladder:
        stood, today = standing.stood, practice_day(self.wiring.now())
        if standing.chosen_loop == stood.whole:
            return stood.ladder(today, self._kept_ladder(stood, part), len(stood.piece.bars))
        return Ladder.begin(stood.rules, today, standing.tempo_bpm, standing.chosen_loop.bars)

    def _owns_ladder(self, standing: Standing) -> bool:
        return standing.choices.way is Way.LADDER and standing.chosen_loop == standing.stood.whole

    def _follow_loop(self, before: Standing) -> None:
        """Let the transport play the loop of the state now."""
        after = self._standing
        if after.choices.way in BUILDS or before.choices.way in BUILDS:
            running = self.running
            self._load()
            if running:
                self.player.play()
        elif after.loop != before.loop:
            self.player.change(lambda transport: transport.set_loop(after.loop))

    def _load(self) -> None:
        """A transport for what is played now."""
        standing = self._standing
        timeline, loop = self._timeline()
        plan = Plan(
            loop=loop,
            share=share_of(standing.tempo_bpm, standing.stood.target_bpm),
            passes=None,
            count_in=standing.count_in,
            click=self.click_pattern,
            silent_bars=standing.silent_bars,
            mix=standing.mix,
        )
        self.player.load(timeline, plan, self._next_share, self._passed)

    def _timeline(self) -> tuple[Timeline, Loop]:
        """What is played now, and its loop: the piece, or the built bars with the note over the join."""
        standing = self._standing
        piece, loop = standing.stood.piece, standing.loop
        self._offset = Fraction(0)
        building = standing.progress.building
        if standing.choices.way in BUILDS and building is not None and len(piece.riffs) == 1:
            built = built_riff(piece.riffs[0].riff, building.loop)
            self._offset = built.offset
            piece = Piece.of(standing.stood.exercise, (built.riff,))
            loop = piece.whole
        return Timeline.of(piece, self.wiring.rig), loop

    def _place(self) -> Place:
        standing = self._standing
        heard = tuple(name for name in standing.stood.heard if name not in standing.choices.unheard)
        return Place(
            standing.stood.line(standing.mine),
            standing.choices.first + 1,
            standing.choices.last + 1,
            standing.tempo_bpm,
            self.player.sounding.port,
            str(standing.choices.way),
            heard if standing.choices.unheard else (),
        )

    def _keep(self) -> None:
        standing = self._standing
        bpm = standing.tempo_bpm if standing.choices.way is Way.LADDER else standing.choices.bpm
        kept = replace(standing.choices, bpm=bpm)
        self.wiring.memory.keep(standing.stood.exercise.id, standing.stood.riff, kept)

    def _remember_port(self) -> None:
        if self.player.sounding.port:
            self.wiring.log.change(use_port, self.wiring.log.sitting, self.player.sounding.port)
