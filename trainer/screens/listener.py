"""Listening while the stand plays: each pass is heard ahead as it sounds, judged soon after its end, and kept.

One thread looks every ten milliseconds what has come in. While a pass is played its sound goes to whoever judges
(`listening.ahead`, in the program a process of its own), so that after its end little is left to do. A pass that was
broken off (the player stopped, the input went away, listening was switched off) is judged for its whole bars and kept,
marked as unfinished; a pass that cannot be judged is told in a sentence.
"""

import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.music.problem import ProblemsError
from trainer.screens.asked import Asked, Heard, Underway
from trainer.screens.ears import Ear, FlowingEar

if TYPE_CHECKING:
    from trainer.listening.ahead import Judging, Question
    from trainer.listening.bands import Bands
    from trainer.listening.judging import Judgement
    from trainer.listening.sound import Sound
    from trainer.listening.takes import Takes
    from trainer.listening.written import Written
    from trainer.screens.known_late import Known

BEFORE_S = 0.15
"""What is cut out before a pass begins."""
HEARD_OUT_S = 0.13
"""How long after its beginning the last note is listened to at least: a late one's pitch shows by then."""
AFTER_S, UNKNOWN_AFTER_S = 0.04, 0.25
"""How long after the last note's end is listened; the longer while no pass has told yet how late sound comes in."""
LATEST_S = 0.4
"""How late sound may come in."""
STANDSTILL_S = 2.0
"""Seconds without sound after which a pass is judged by what there is."""
LONGEST_S = 600.0
"""No longer pass is judged: ten minutes are 115 MB of sound."""
KEEP_S = 60.0
"""Of what came in, beside the pass that is played."""
PAUSE_SECONDS = 0.01
LOOK_S = 0.1
"""Between two looks at what is played, and two pieces of sound handed on."""
AHEAD_S, AHEAD_SHARE = 1.0, 0.1
"""How much more must have come until it is heard ahead again: so many seconds, and such a share of what has come."""
SPARE_S = 0.35
"""Before the end of a pass nothing is heard ahead, which might hold up the judging; longer in long passes."""
BROKEN_OFF_S = 0.5
"""Seconds after its last sound in which a pass is told that is over; else it was broken off."""
CLOSING_S = 8.0
DROPPED = "The sound card dropped frames in this pass, which moves what comes after: close other programs."
TOO_LONG = "A pass of more than ten minutes is not judged: loop fewer bars."


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
        self._late = 0.0
        self._dropped = 0
        self._refined = False
        self._said: set[str] = set()
        self._asked: deque[Asked] = deque()
        self._flow: _Flow | None = None
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

        self._judging: Judging = self._make_judging() if self._make_judging else JudgesHere()
        try:
            self._warm_up()
            while not self._closing.wait(PAUSE_SECONDS):
                reach = self.ear.reach()
                self._follow(reach)
                while self._asked and self._is_due(self._asked[0], reach):
                    self._judge(self._asked.popleft())
                if self.ear.gone:
                    break
                flow = self._flow
                begins = self._clock() if flow is None else flow.begins - 1
                self.ear.forget(min(self._clock() - KEEP_S, begins))
            self._break_off()
            if self.ear.gone and not self._closing.is_set():
                self._gone(self.ear.gone)
        finally:
            self._judging.close()
            self.ear.close()

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
            flow = self._flow = _Flow(played, now)
        if flow is not None:
            self._hand_on(flow, min(reach, now))

    def _is_asked(self, played: Underway) -> bool:
        return any(item.start == played.start for item in self._asked)

    def _hand_on(self, flow: "_Flow", reach: float) -> None:
        """Hand on what has come of a pass, and let it be heard ahead where there is time for that."""
        ear = self.ear
        if not isinstance(ear, FlowingEar) or flow.too_long:
            return
        if flow.origin is None:
            if reach < flow.begins:
                return
            flow.first = flow.sent = ear.frame_of(flow.begins + self._late_of(flow.played.known) - BEFORE_S)
            flow.origin = ear.moment_of(flow.first)
            self._judging.begin(ear.rate, lambda: ear.frames(flow.first, flow.sent).samples)
        samples = ear.frames(flow.sent, ear.frame_of(reach)).samples
        if len(samples):
            self._judging.add(samples)
            flow.sent += len(samples)
        late = self._late_of(flow.played.known)
        found = self._judging.looked()
        if found is not None and flow.played.known is None:
            self._late, self._refined = min(max(flow.origin + found - flow.begins, -BEFORE_S), LATEST_S), True
        came, left = reach - flow.begins, flow.seconds + late - (reach - flow.begins)
        if came < flow.looked + max(AHEAD_S, AHEAD_SHARE * came) or left < SPARE_S + flow.seconds / 100:
            return
        written = flow.played.written
        if written is not None:
            flow.looked = came
            self._judging.look(self._question(written, flow.played.begins + late - flow.origin, flow.played.known))

    def _question(
        self, written: "Written", begins_s: float, known: "Known | None", warnings: tuple[str, ...] = ()
    ) -> "Question":
        from trainer.listening.ahead import Question

        if known is not None:
            return Question(written, begins_s, self.bands, True, known.within_ms, None, warnings)
        return Question(written, begins_s, self.bands, guesses=(0.0,) if self._refined else None, warnings=warnings)

    def _late_of(self, known: "Known | None") -> float:
        """Seconds by which what is played comes in late."""
        return self._late if known is None else known.late_s

    def _is_due(self, item: Asked, reach: float) -> bool:
        """Whether everything has come that a pass is judged by."""
        if self.ear.gone or item.written is None or item.seconds > LONGEST_S:
            return True
        last = item.written.strokes[-1]
        end = float(last.at + last.length)
        after = AFTER_S if self._refined or item.known is not None else UNKNOWN_AFTER_S
        until = item.begins + self._late_of(item.known) + max(end + after, float(last.at) + HEARD_OUT_S)
        return reach >= until or self._clock() >= until + STANDSTILL_S

    def _judge(self, item: Asked) -> None:
        """Judge a pass that is over, tell it, and keep its take."""
        from trainer.listening.judging import unjudged

        flow = self._flow
        if flow is not None and flow.played.start == item.start:
            self._flow = None
        else:
            flow = None
        written, why = item.written, item.why_not
        if written is not None and item.seconds > LONGEST_S:
            written, why = None, TOO_LONG
        if written is None:
            self._heard(Heard(item, unjudged(why)))
            return
        last = written.strokes[-1]
        end = item.begins + self._late_of(item.known) + float(last.at + last.length) + UNKNOWN_AFTER_S
        origin, judgement = self._judged(item, written, flow, end)
        self._heard(Heard(item, judgement))
        performance = judgement.performance
        if performance is not None and judgement.verdict.counts and item.known is None:
            # the pass was followed: the next one is looked for as late as this one was
            late = origin + performance.start_s - item.begins
            self._late, self._refined = min(max(late, -BEFORE_S), LATEST_S), True
        elif item.known is None:
            self._late, self._refined = 0.0, False
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

    def _judged(self, item: Asked, written: "Written", flow: "_Flow | None", end: float) -> "tuple[float, Judgement]":
        """The moment at which the take of a pass begins, and the judgement on what came of it up to another one."""
        from trainer.listening.midi_take import MidiTake

        dropped, self._dropped = self.ear.dropped - self._dropped, self.ear.dropped
        warnings = (DROPPED,) if dropped else ()
        ear, heard = self.ear, item.begins + self._late_of(item.known)
        if flow is not None and flow.origin is not None and isinstance(ear, FlowingEar):
            samples = ear.frames(flow.sent, ear.frame_of(min(end, ear.reach()))).samples
            self._judging.add(samples)
            flow.sent += len(samples)
            return flow.origin, self._judging.judge(self._question(written, heard - flow.origin, item.known, warnings))
        origin = heard - BEFORE_S
        take = ear.between(origin, end)
        question = self._question(written, BEFORE_S, item.known, warnings)
        if isinstance(take, MidiTake):
            return origin, self._judging.judge(question, take)
        self._judging.begin(take.rate, lambda: take.samples)
        self._judging.add(take.samples)
        return origin, self._judging.judge(question)

    def _break_off(self) -> None:
        """The pass that was played came to no end: judge its whole bars, keep the take, tell it."""
        flow, self._flow = self._flow, None
        while self._asked:
            self._judge(self._asked.popleft())
        if flow is None or flow.too_long or not flow.played.steady:
            return
        late = self._late_of(flow.played.known)
        until = min(flow.last, self.ear.reach() - late)
        item = flow.played.broken_off(until - flow.begins)
        if item is not None and item.written is not None:
            _, judgement = self._judged(item, item.written, flow, until + late + AFTER_S)
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

    def _once(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self._tell(sentence)

    def _warm_up(self) -> None:
        """Judge a second of nothing, so that the first verdict does not wait for imports and tables."""
        import numpy as np

        from trainer.listening.ahead import Question
        from trainer.listening.written import Stroke, Written

        eighth = Fraction(1, 4)
        strokes = tuple(Stroke(number * eighth, eighth, (40 + number,)) for number in range(8))
        noise = np.random.default_rng(1).normal(0, 0.01, 96_000).astype(np.float32)
        with suppress(ValueError):
            self._judging.begin(48_000)
            self._judging.add(noise)
            self._judging.judge(Question(Written(strokes, 8 * eighth), BEFORE_S, self.bands))


class _Flow:
    """The sound of the pass that is being played, as it is handed on."""

    def __init__(self, played: Underway, now: float) -> None:
        self.played = played
        self.begins = played.begins
        self.last = now
        """When it was last seen to be played."""
        self.origin: float | None = None
        """The moment at which it is cut out; None before anything of it was handed on."""
        self.first = self.sent = 0
        """The frames from and up to which it was handed on."""
        self.looked = 0.0
        """Seconds of it that were heard ahead."""

    def is_of(self, played: Underway) -> bool:
        """Whether what is played is still this pass."""
        return played.start == self.played.start

    def goes_on(self, played: Underway, now: float) -> None:
        """It is still played."""
        self.last = now
        self.played = played.after(self.played)

    @property
    def seconds(self) -> float:
        """How long the pass lasts."""
        return self.played.seconds

    @property
    def too_long(self) -> bool:
        """Whether it is longer than what is judged."""
        return self.seconds > LONGEST_S
