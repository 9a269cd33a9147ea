"""Listening while the stand plays: each pass is heard ahead as it sounds, judged soon after its end, and kept.

One thread looks every ten milliseconds what has come in. While a pass is played its sound goes to whoever judges
(`listening.ahead`, in the program a process of its own), so that after its end little is left to do. A pass that was
broken off (the player stopped, the input went away, listening was switched off) is judged for its whole bars and kept,
marked as unfinished; a pass that cannot be judged is told in a sentence, and so is an input that stands still. Nothing
ends this silently: a mistake of ours in one pass is told with that pass, and one beyond that with the end of listening.
"""

import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.music.problem import ProblemsError
from trainer.screens.asked import Asked, Heard, Underway
from trainer.screens.ears import Ear, FlowingEar
from trainer.screens.flow import BEFORE_S, LONGEST_S, Flow, question
from trainer.screens.found_late import FoundLate
from trainer.screens.standstill import STANDSTILL_S, Standstill

if TYPE_CHECKING:
    from trainer.listening.ahead import Judging
    from trainer.listening.bands import Bands
    from trainer.listening.judging import Judgement
    from trainer.listening.sound import Sound
    from trainer.listening.takes import Takes
    from trainer.listening.written import Written

HEARD_OUT_S = 0.13
"""How long after its beginning the last note is listened to at least: a late one's pitch shows by then."""
AFTER_S, UNKNOWN_AFTER_S = 0.04, 0.25
"""How long after the last note's end is listened; the longer while no pass has told yet how late sound comes in, unless
nothing at all has come."""
KEEP_S = 60.0
"""Of what came in, beside the pass that is played."""
PAUSE_SECONDS = 0.01
LOOK_S = 0.1
"""Between two looks at what is played, and two pieces of sound handed on."""
BROKEN_OFF_S = 0.5
"""Seconds after its last sound in which a pass is told that is over; else it was broken off."""
CLOSING_S = 8.0
MOST_MISTAKES = 5
"""Between two passes that are judged, after which listening ends."""
DROPPED = "The sound card dropped frames in this pass, which moves what comes after: close other programs."
TOO_LONG = "A pass of more than ten minutes is not judged: loop fewer bars."
LACKS = "Not all of this pass came in from the input: what is missing counts as not played."
NOT_THIS_PASS = "and cannot judge this pass. It goes on listening."  # noqa: S105 - no password
NOT_THIS_TAKE = "and cannot keep this take. The verdict stands."
GOES_ON = "and goes on listening."
NO_MORE = "and does not listen any more. Press L to listen again."


class Listener:
    """Judges one pass after another, as soon as its sound has come in."""

    def __init__(
        self,
        ear: Ear,
        bands: "Bands",
        takes: "Takes | None",
        *,
        clock: Callable[[], float],
        now: Callable[[], datetime],
        heard: Callable[[Heard], None],
        tell: Callable[[str], None],
        gone: Callable[[str], object],
        underway: Callable[[], Underway | None] = lambda: None,
        judging: "Callable[[], Judging] | None" = None,
        overhears: "Callable[[Asked, Sound], str] | None" = None,
    ) -> None:
        """Begin to listen.

        Args:
            ear: the open input; it is closed with this.
            bands: by which is judged.
            takes: where takes are kept; None keeps none.
            clock: seconds, the same as the ear's.
            now: the time of day.
            heard: gets each judgement, in this listener's thread.
            tell: hears sentences for the player, in this listener's thread.
            gone: told, in a sentence, that the input went away and nothing more is heard; in this listener's thread,
                after what was heard of the pass that was played has been judged and kept.
            underway: gives the pass that is being played; None when none is.
            judging: makes who judges, in this listener's thread; None to judge in that thread.
            overhears: what to say of a pass and its take where more than the player is heard, empty for nothing; asked
                in this listener's thread after the pass was judged.
        """
        self.ear = ear
        self.bands = bands
        self._takes, self._clock, self._now, self._heard, self._tell = takes, clock, now, heard, tell
        self._gone, self._underway, self._make_judging = gone, underway, judging
        self._overhears = overhears
        self._found = FoundLate()
        self._dropped = 0
        self._standstill = Standstill()
        self._mistakes = 0
        self._said: set[str] = set()
        self._asked: deque[Asked] = deque()
        self._flow: Flow | None = None
        self._looked = 0.0
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="listener", daemon=True)
        self._thread.start()

    def ask(self, asked: Asked) -> None:
        """Judge a pass that is over; from any thread."""
        self._asked.append(asked)

    def close(self, *, wait: bool = True) -> None:
        """Stop listening; what was heard of the pass that is played is judged and kept first.

        Args:
            wait: until that is done; without, it is done while the caller goes on.
        """
        self._closing.set()
        if wait and threading.current_thread() is not self._thread:
            self._thread.join(timeout=CLOSING_S)

    # -- in the listener's thread -------------------------------------------------------------------------------

    def _run(self) -> None:
        from trainer.listening.ahead import JudgesHere

        self._judging: Judging = JudgesHere()
        try:
            ended = self._listened()
            if ended and not self._closing.is_set():
                self._gone(ended)
        finally:
            self._judging.close()
            self.ear.close()

    def _listened(self) -> str:
        """Listen until it is closed, the input goes away, or mistakes of ours keep from it; answers with why."""
        from trainer.listening.warm_up import warm_up

        try:
            if self._make_judging is not None:
                self._judging = self._make_judging()
            with suppress(Exception):  # what goes wrong here goes wrong in a pass, where it is told
                warm_up(self._judging, self.bands)
            while not self._closing.wait(PAUSE_SECONDS) and not self.ear.gone:
                try:
                    self._look()
                except Exception as error:
                    self._mistakes += 1
                    if self._mistakes >= MOST_MISTAKES:
                        raise
                    self._flow = None
                    self._once(self._mistake(error, GOES_ON))
            self._break_off()
        except Exception as error:  # nothing ends listening without a word
            return self._mistake(error, NO_MORE)
        return self.ear.gone

    def _look(self) -> None:
        """Look what has come, hand it on, and judge what is due."""
        reach = self.ear.reach()
        told = self._standstill.told(self._clock(), reach)
        if told:
            self._tell(told)
        self._follow(reach)
        while self._asked and self._is_due(self._asked[0], reach):
            self._judge_asked()
        flow = self._flow
        begins = self._clock() if flow is None else flow.begins - 1
        self.ear.forget(min(self._clock() - KEEP_S, begins))

    def _mistake(self, error: Exception, then: str) -> str:
        """What to tell of a mistake of ours, which is written down."""
        from trainer.own_mistake import write_down

        return write_down(error, self._now(), then)

    def _follow(self, reach: float) -> None:
        """Notice which pass is played, and hand on what came of it."""
        now = self._clock()
        if now < self._looked + LOOK_S:
            return
        self._looked = now
        played, flow = self._underway(), self._flow
        if flow is not None:
            if played is not None and flow.is_of(played):
                flow.goes_on(played, now)
            elif now > flow.last + BROKEN_OFF_S and not self._is_asked(flow.played):
                self._break_off()
                flow = self._flow
        if played is not None and flow is None and not self._is_asked(played):
            flow = self._flow = Flow(played, now)
        if flow is not None and isinstance(self.ear, FlowingEar) and not flow.too_long:
            flow.hand_on(self.ear, self._judging, min(reach, now), self._found)
            flow.hear_ahead(self._judging, min(reach, now), self.bands, self._found)

    def _is_asked(self, played: Underway) -> bool:
        return any(item.start == played.start for item in self._asked)

    def _is_due(self, item: Asked, reach: float) -> bool:
        """Whether everything has come that a pass is judged by."""
        if self.ear.gone or item.written is None or item.seconds > LONGEST_S:
            return True
        last = item.written.strokes[-1]
        end = float(last.at + last.length)
        silent = self._flow is not None and self._flow.is_of(item) and self._flow.silent
        after = AFTER_S if silent or self._found.told(item.known) else UNKNOWN_AFTER_S
        until = item.begins + self._found.of(item.known) + max(end + after, float(last.at) + HEARD_OUT_S)
        return reach >= until or self._clock() >= until + STANDSTILL_S

    def _judge_asked(self) -> None:
        """Judge the next pass that is over."""
        item, flow = self._asked.popleft(), self._flow
        if flow is not None and flow.is_of(item):
            self._flow = None
        else:
            flow = None
        self._or_tell(item, lambda: self._judge(item, flow))

    def _or_tell(self, item: Asked, judge: Callable[[], None]) -> None:
        """Judge a pass; where a mistake of ours keeps from that, tell it with the pass, and go on with the next one."""
        from trainer.listening.judging import unjudged

        try:
            judge()
            self._mistakes = 0
        except Exception as error:
            self._found.forget()
            self._heard(Heard(item, unjudged(self._mistake(error, NOT_THIS_PASS))))

    def _judge(self, item: Asked, flow: Flow | None) -> None:
        """Judge a pass that is over, tell it, and keep its take."""
        from trainer.listening.judging import unjudged

        written, why = item.written, item.why_not
        if written is not None and item.seconds > LONGEST_S:
            written, why = None, TOO_LONG
        if written is None:
            self._heard(Heard(item, unjudged(why)))
            return
        last = written.strokes[-1]
        end = item.begins + self._found.of(item.known) + float(last.at + last.length) + UNKNOWN_AFTER_S
        origin, judgement = self._judged(item, written, flow, end)
        self._heard(Heard(item, judgement))
        performance = judgement.performance
        if performance is not None and judgement.verdict.counts and item.known is None:
            self._found.tell(origin + performance.start_s - item.begins)
        elif item.known is None:
            self._found.forget()
        self._keep(item, judgement)
        self._overhear(item, judgement, origin, end)

    def _overhear(self, item: Asked, judgement: "Judgement", origin: float, end: float) -> None:
        """See whether the input hears more than the player, and tell it: once in a sentence, and with the pass."""
        if self._overhears is None or item.beside is None or not isinstance(self.ear, FlowingEar):
            return
        sentence = self._overhears(item, self.ear.frames(self.ear.frame_of(origin), self.ear.frame_of(end)))
        if sentence:
            self._once(sentence)
            self._heard(Heard(item, replace(judgement, warnings=(*judgement.warnings, sentence))))

    def _judged(self, item: Asked, written: "Written", flow: Flow | None, end: float) -> "tuple[float, Judgement]":
        """The moment at which the take of a pass begins, and the judgement on what came of it up to another one."""
        from trainer.listening.midi_take import MidiTake

        dropped, self._dropped = self.ear.dropped - self._dropped, self.ear.dropped
        lacks = self.ear.reach() < end - UNKNOWN_AFTER_S
        warnings = tuple(told for told, so in ((DROPPED, dropped), (LACKS, lacks)) if so)
        ear, heard = self.ear, item.begins + self._found.of(item.known)
        if flow is not None and flow.origin is not None and isinstance(ear, FlowingEar):
            flow.hand_on_to(ear, self._judging, min(end, ear.reach()))
            asks = question(written, heard - flow.origin, self.bands, item.known, self._found, warnings)
            return flow.origin, self._judging.judge(asks)
        origin = heard - BEFORE_S
        take = ear.between(origin, end)
        asks = question(written, BEFORE_S, self.bands, item.known, self._found, warnings)
        if isinstance(take, MidiTake):
            return origin, self._judging.judge(asks, take)
        self._judging.begin(take.rate, lambda: take.samples)
        self._judging.add(take.samples)
        return origin, self._judging.judge(asks)

    def _break_off(self) -> None:
        """The pass that was played came to no end: judge its whole bars, keep the take, tell it."""
        while self._asked:
            self._judge_asked()
        flow, self._flow = self._flow, None
        if flow is None or flow.too_long or not flow.played.steady:
            return
        late = self._found.of(flow.played.known)
        until = min(flow.last, self.ear.reach() - late)
        item = flow.played.broken_off(until - flow.begins)
        if item is not None:
            self._or_tell(item, lambda: self._judge_broken_off(item, flow, until + late + AFTER_S))

    def _judge_broken_off(self, item: Asked, flow: Flow, end: float) -> None:
        if item.written is not None:
            _, judgement = self._judged(item, item.written, flow, end)
            self._heard(Heard(item, judgement))
            self._keep(item, judgement)

    def _keep(self, item: Asked, judgement: "Judgement") -> None:
        if self._takes is None:
            return
        performance = judgement.performance
        start = performance.start_s if performance is not None and judgement.verdict.counts else BEFORE_S
        about = {
            **item.about,
            "start_s": round(start, 6),
            "start_known": performance is not None and performance.start_known,
        }
        try:
            self._judging.keep(self._takes.folder, self._takes.limit_bytes, about, self._now())
        except ProblemsError as error:
            self._once(str(error.problems[0]))
        except Exception as error:
            self._once(self._mistake(error, NOT_THIS_TAKE))

    def _once(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self._tell(sentence)
