"""Listening to the player: each pass is judged soon after its end, told and kept.

One thread looks every ten milliseconds at what has come in. While a pass sounds, its sound goes to whoever judges
(`listening.ahead`; in the program that is a process of its own), so that little is left to do after its end. A pass
that was broken off (the player stopped, the input went away, listening was switched off) is judged for its whole bars
and kept as unfinished; a pass that cannot be judged is told in a sentence, and so is an input that stands still. A pass
in which nothing came in is not kept. Nothing ends listening silently: a mistake of ours in one pass is told with that
pass, any other one as listening ends. Moments are seconds on the session's clock.
"""

import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from trainer.music.problem import ProblemsError
from trainer.session.heard_pass import JudgedPass, PassInProgress, PassToJudge
from trainer.session.inputs import Input, SoundInput
from trainer.session.latency import Latency
from trainer.session.pass_recording import BEFORE_S, LONGEST_S, PassRecording, question

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.judging import Judgement
    from trainer.listening.live_judge import LiveJudge
    from trainer.listening.sound import Sound
    from trainer.listening.takes import Takes
    from trainer.listening.written import WrittenPart

HEARD_OUT_S = 0.13
"""The last note is listened to for so long after its beginning at least: a late one shows its pitch by then."""
AFTER_S, UNKNOWN_AFTER_S = 0.04, 0.25
"""How long to go on listening after the end of the last note; the longer while neither calibration nor a pass has told
how late sound comes in, unless nothing at all has come in."""
KEEP_S = 60.0
"""So much of what came in is kept beside the pass that is played."""
PAUSE_SECONDS = 0.01
LOOK_S = 0.1
"""Between two looks at what is played, and between two pieces of sound handed on."""
BROKEN_OFF_S = 0.5
"""A pass that is over is told within so many seconds of its last sound; otherwise it was broken off."""
STANDSTILL_S = 2.0
"""After so many seconds without sound a pass is judged by what there is, and the player is told."""
CLOSING_S = 8.0
MOST_MISTAKES = 5
"""So many mistakes of ours between two judged passes end listening."""
DROPPED = "The sound card dropped frames in this pass, which moves what comes after: close other programs."
TOO_LONG = "A pass of more than ten minutes is not judged: loop fewer bars."
LACKS = "Not all of this pass came in from the input: what is missing counts as not played."
STANDS_STILL = (
    "Nothing comes in from the input any more: the sound server stands still, or is too busy. Listening goes on; if "
    "nothing comes again, press L twice to open the input anew."
)
COMES_AGAIN = "The input is heard again."
NOT_THIS_PASS = "and cannot judge this pass. It goes on listening."  # noqa: S105 - no password
NOT_THIS_TAKE = "and cannot keep this take. The verdict stands."
GOES_ON = "and goes on listening."
NO_MORE = "and does not listen any more. Press L to listen again."


class _Result(NamedTuple):
    """What judging one pass gave."""

    origin: float
    """The moment at which its take begins."""
    judgement: "Judgement"
    silent: bool
    """Whether nothing came in while it was played."""


class Listening:
    """Judges one pass after another, as soon as its sound has come in."""

    def __init__(
        self,
        source: Input,
        bands: "Bands",
        takes: "Takes",
        *,
        clock: Callable[[], float],
        now: Callable[[], datetime],
        judged: Callable[[JudgedPass], None],
        tell: Callable[[str], None],
        gone: Callable[[str], object],
        in_progress: Callable[[], PassInProgress | None] = lambda: None,
        judging: "Callable[[], LiveJudge] | None" = None,
        loop_check: "Callable[[PassToJudge, Sound], str] | None" = None,
    ) -> None:
        """Begin to listen. All callbacks come in a thread of this object's own.

        Args:
            source: the open input; it is closed with this.
            bands: how late is late.
            takes: where takes are kept.
            clock: seconds; the input's moments are on it.
            now: the time of day.
            judged: gets each judged pass; the same one again where `loop_check` adds a warning.
            tell: hears sentences for the player.
            gone: told, in a sentence, that the input went away and nothing more is heard: after what was heard of the
                pass that was played has been judged and kept.
            in_progress: gives the pass that is being played; None when none is.
            judging: makes who judges; None to judge in this object's thread.
            loop_check: called after a pass was judged, with its take; answers with a sentence where more than the
                player is heard, else with nothing.
        """
        self.source = source
        self.bands = bands
        self._takes, self._clock, self._now, self._judged, self._tell = takes, clock, now, judged, tell
        self._gone, self._in_progress, self._make_judging = gone, in_progress, judging
        self._loop_check = loop_check
        self.latency = Latency(lambda: source.told_late_s)
        """How late sound comes in, as far as it is known so far."""
        self._dropped = 0
        self._still = False
        self._mistakes = 0
        self._said: set[str] = set()
        self._waiting: deque[PassToJudge] = deque()
        self._recording: PassRecording | None = None
        self._looked = 0.0
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="listening", daemon=True)
        self._thread.start()

    def ask(self, item: PassToJudge) -> None:
        """Judge a pass that is over; from any thread."""
        self._waiting.append(item)

    def close(self, *, wait: bool = True) -> None:
        """Stop listening; what was heard of the pass that is played is judged and kept first.

        Args:
            wait: until that is done; otherwise it is done while the caller goes on.
        """
        self._closing.set()
        if wait and threading.current_thread() is not self._thread:
            self._thread.join(timeout=CLOSING_S)

    # -- in its own thread --------------------------------------------------------------------------------------

    def _run(self) -> None:
        from trainer.listening.live_judge import LocalJudge

        self._judging: LiveJudge = LocalJudge()
        try:
            ended = self._listen()
            if ended and not self._closing.is_set():
                self._gone(ended)
        finally:
            self._judging.close()
            self.source.close()

    def _listen(self) -> str:
        """Listen until this is closed, the input goes away or mistakes of ours prevent it; returns why it ended."""
        from trainer.listening.live_judge import warm_up

        try:
            if self._make_judging is not None:
                self._judging = self._make_judging()
            with suppress(Exception):  # what goes wrong here goes wrong in a pass, where it is told
                warm_up(self._judging, self.bands)
            while not self._closing.wait(PAUSE_SECONDS) and not self.source.gone:
                try:
                    self._look()
                except Exception as error:
                    self._mistakes += 1
                    if self._mistakes >= MOST_MISTAKES:
                        raise
                    self._recording = None
                    self._tell_once(self._mistake(error, GOES_ON))
            self._break_off()
        except Exception as error:  # nothing ends listening without a word
            return self._mistake(error, NO_MORE)
        return self.source.gone

    def _look(self) -> None:
        """Take in what has come, hand it on, and judge what is due."""
        reach = self.source.reach()
        self._tell_of_standstill(reach)
        self._follow(reach)
        while self._waiting and self._is_due(self._waiting[0], reach):
            self._judge_next()
        recording = self._recording
        begins = self._clock() if recording is None else recording.begins - 1
        self.source.forget(min(self._clock() - KEEP_S, begins))

    def _tell_of_standstill(self, reach: float) -> None:
        """Tell when nothing comes in any more, and when something does again."""
        before, self._still = self._still, self._clock() - reach > STANDSTILL_S
        if before != self._still:
            self._tell(STANDS_STILL if self._still else COMES_AGAIN)

    def _mistake(self, error: Exception, then: str) -> str:
        """Write a mistake of ours down; returns what to tell of it."""
        from trainer.own_mistake import write_down

        return write_down(error, self._now(), then)

    def _follow(self, reach: float) -> None:
        """Notice which pass is played, and hand on what has come in of it."""
        now = self._clock()
        if now < self._looked + LOOK_S:
            return
        self._looked = now
        played, recording = self._in_progress(), self._recording
        if recording is not None:
            if played is not None and recording.is_of(played):
                recording.goes_on(played, now)
            elif now > recording.last + BROKEN_OFF_S and not self._is_waiting(recording.played):
                self._break_off()
                recording = self._recording
        if played is not None and recording is None and not self._is_waiting(played):
            recording = self._recording = PassRecording(played, now)
        if recording is not None and isinstance(self.source, SoundInput) and not recording.too_long:
            recording.hand_on(self.source, self._judging, min(reach, now), self.latency)
            recording.listen_ahead(self._judging, min(reach, now), self.bands, self.latency)

    def _is_waiting(self, played: PassInProgress) -> bool:
        return any(item.start == played.start for item in self._waiting)

    def _is_due(self, item: PassToJudge, reach: float) -> bool:
        """Whether everything has come in that a pass is judged by."""
        if self.source.gone or item.written is None or item.seconds > LONGEST_S:
            return True
        last = item.written.strokes[-1]
        end = float(last.at + last.length)
        recording = self._recording
        silent = recording is not None and recording.is_of(item) and recording.silent
        after = AFTER_S if silent or self.latency.is_known(item.latency) else UNKNOWN_AFTER_S
        until = item.begins + self.latency.seconds(item.latency) + max(end + after, float(last.at) + HEARD_OUT_S)
        return reach >= until or self._clock() >= until + STANDSTILL_S

    def _judge_next(self) -> None:
        """Judge the first of the passes that are over."""
        item, recording = self._waiting.popleft(), self._recording
        if recording is not None and recording.is_of(item):
            self._recording = None
        else:
            recording = None
        self._or_tell(item, lambda: self._judge(item, recording))

    def _or_tell(self, item: PassToJudge, judge: Callable[[], None]) -> None:
        """Judge a pass; a mistake of ours that prevents it is told with the pass, and the next one is judged again."""
        from trainer.listening.judging import unjudged

        try:
            judge()
            self._mistakes = 0
        except Exception as error:
            self.latency.forget()
            self._judged(JudgedPass(item, unjudged(self._mistake(error, NOT_THIS_PASS))))

    def _judge(self, item: PassToJudge, recording: PassRecording | None) -> None:
        """Judge a pass that is over, tell it, and keep its take."""
        from trainer.listening.judging import unjudged

        written, why = item.written, item.why_not
        if written is not None and item.seconds > LONGEST_S:
            written, why = None, TOO_LONG
        if written is None:
            self._judged(JudgedPass(item, unjudged(why)))
            return
        last = written.strokes[-1]
        end = item.begins + self.latency.seconds(item.latency) + float(last.at + last.length) + UNKNOWN_AFTER_S
        result = self._result(item, written, recording, end)
        self._judged(JudgedPass(item, result.judgement))
        performance = result.judgement.performance
        if performance is not None and result.judgement.verdict.counts and item.latency is None:
            self.latency.learn(result.origin + performance.start_s - item.begins)
        elif item.latency is None:
            self.latency.forget()
        self._keep(item, result)
        self._check_loop(item, result, end)

    def _check_loop(self, item: PassToJudge, result: _Result, end: float) -> None:
        """See whether the input hears more than the player; tell it once in a sentence, and with every such pass."""
        if self._loop_check is None or item.others is None or not isinstance(self.source, SoundInput):
            return
        take = self.source.frames(self.source.frame_of(result.origin), self.source.frame_of(end))
        sentence = self._loop_check(item, take)
        if sentence:
            self._tell_once(sentence)
            warned = replace(result.judgement, warnings=(*result.judgement.warnings, sentence))
            self._judged(JudgedPass(item, warned))

    def _result(
        self, item: PassToJudge, written: "WrittenPart", recording: PassRecording | None, end: float
    ) -> _Result:
        """Judge a pass by what came in of it until `end`."""
        from trainer.listening.midi_take import MidiTake
        from trainer.listening.soundness import is_silent

        source, heard = self.source, item.begins + self.latency.seconds(item.latency)
        dropped, self._dropped = source.dropped - self._dropped, source.dropped
        lacks = source.reach() < end - UNKNOWN_AFTER_S
        warnings = tuple(told for told, so in ((DROPPED, dropped), (LACKS, lacks)) if so)
        if recording is not None and recording.origin is not None and isinstance(source, SoundInput):
            recording.hand_on_to(source, self._judging, min(end, source.reach()))
            asks = question(written, heard - recording.origin, self.bands, item.latency, self.latency, warnings)
            return _Result(recording.origin, self._judging.judge(asks), recording.silent)
        origin = heard - BEFORE_S
        take = source.between(origin, end)
        asks = question(written, BEFORE_S, self.bands, item.latency, self.latency, warnings)
        if isinstance(take, MidiTake):
            return _Result(origin, self._judging.judge(asks, take), not take.notes)
        self._judging.begin(take.rate, lambda: take.samples)
        self._judging.add(take.samples)
        return _Result(origin, self._judging.judge(asks), is_silent(take.samples))

    def _break_off(self) -> None:
        """The pass that was played did not come to its end: judge its whole bars, keep the take, tell it."""
        while self._waiting:
            self._judge_next()
        recording, self._recording = self._recording, None
        if recording is None or recording.too_long or not recording.played.steady:
            return
        late = self.latency.seconds(recording.played.latency)
        until = min(recording.last, self.source.reach() - late)
        item = recording.played.broken_off(until - recording.begins)
        if item is not None:
            self._or_tell(item, lambda: self._judge_broken_off(item, recording, until + late + AFTER_S))

    def _judge_broken_off(self, item: PassToJudge, recording: PassRecording, end: float) -> None:
        if item.written is not None:
            result = self._result(item, item.written, recording, end)
            self._judged(JudgedPass(item, result.judgement))
            self._keep(item, result)

    def _keep(self, item: PassToJudge, result: _Result) -> None:
        """Keep the take that was judged last, unless there is nothing in it."""
        if result.silent:
            return
        judgement, performance = result.judgement, result.judgement.performance
        start = performance.start_s if performance is not None and judgement.verdict.counts else BEFORE_S
        info = replace(
            item.info,
            start_s=round(start, 6),
            start_known=performance is not None and performance.start_known,
            heard_by="sound card" if isinstance(self.source, SoundInput) else "MIDI",
        )
        try:
            self._judging.keep(self._takes.folder, self._takes.limit_bytes, info, self._now())
        except ProblemsError as error:
            self._tell_once(str(error.problems[0]))
        except Exception as error:
            self._tell_once(self._mistake(error, NOT_THIS_TAKE))

    def _tell_once(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self._tell(sentence)
