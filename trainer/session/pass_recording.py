"""The sound of the pass that is being played: handed to the judging piece by piece, and listened to ahead."""

from typing import TYPE_CHECKING

from trainer.session.heard_pass import PassInProgress, PassToJudge
from trainer.session.inputs import SoundInput

if TYPE_CHECKING:
    from trainer.listening.bands import Bands
    from trainer.listening.live_judge import LiveJudge, Question
    from trainer.listening.written import WrittenPart
    from trainer.session.latency import CalibratedLatency, Latency

BEFORE_S = 0.15
"""A take begins so long before its pass."""
LONGEST_S = 600.0
"""Longer passes are not judged: ten minutes are 115 MB of sound."""
AHEAD_S, AHEAD_SHARE = 1.0, 0.1
"""It is listened to ahead again when so many seconds more have come in, and such a share of what had."""
SPARE_S, SPARE_SHARE = 0.35, 0.01
"""So close to its end, in seconds and as a share of the pass, it is not: that could hold up the verdict."""
LAST_S = 0.3
"""Just before that it is once more, however little has come in since, to leave as little as possible to do."""


def question(  # noqa: PLR0917  # the last one has a default
    written: "WrittenPart",
    begins_s: float,
    bands: "Bands",
    calibrated: "CalibratedLatency | None",
    latency: "Latency",
    warnings: tuple[str, ...] = (),
) -> "Question":
    """Put together how one recorded pass is to be judged.

    Args:
        written: the strokes to be played.
        begins_s: second of the take at which the pass begins.
        bands: how late is late.
        calibrated: how late it comes in, where that was calibrated.
        latency: and what the passes so far have told.
        warnings: what is known already to have spoilt the take.
    """
    from trainer.listening.live_judge import Question

    within = 0.0 if calibrated is None else calibrated.within_ms
    return Question(written, begins_s, bands, calibrated is not None, within, latency.guesses(calibrated), warnings)


class PassRecording:
    """The sound of one pass."""

    def __init__(self, played: PassInProgress, now: float) -> None:
        """Begin.

        Args:
            played: the pass.
            now: when it was first seen to be played.
        """
        self.played = played
        self.begins = played.begins
        self.last = now
        """When it was last seen to be played."""
        self.origin: float | None = None
        """The moment at which its take begins; None until some of it was handed on."""
        self.silent = True
        """Whether nothing at all came in while it was played."""
        self._first = self._sent = 0
        self._looked = 0.0

    def is_of(self, played: PassInProgress | PassToJudge) -> bool:
        """Whether it is the sound of this pass."""
        return played.start == self.played.start

    def goes_on(self, played: PassInProgress, now: float) -> None:
        """The pass is still being played."""
        self.last = now
        self.played = played.after(self.played)

    @property
    def too_long(self) -> bool:
        """Whether the pass is too long to be judged."""
        return self.played.seconds > LONGEST_S

    def hand_on(self, source: SoundInput, judging: "LiveJudge", reach: float, latency: "Latency") -> None:
        """Hand on what has come in.

        Args:
            source: the open input.
            judging: who judges.
            reach: the moment up to which it has come in.
            latency: how late it comes in; learns it where listening ahead finds out.
        """
        calibrated = self.played.latency
        if self.origin is None:
            if reach < self.begins:
                return
            self._first = self._sent = source.frame_of(self.begins + latency.seconds(calibrated) - BEFORE_S)
            self.origin = source.moment_of(self._first)
            judging.begin(source.rate, lambda: source.frames(self._first, self._sent).samples)
        self.hand_on_to(source, judging, reach)
        began = judging.looked()
        if began is not None and calibrated is None:
            latency.learn(self.origin + began - self.begins)

    def hand_on_to(self, source: SoundInput, judging: "LiveJudge", moment: float) -> None:
        """Hand on what came in up to a moment."""
        from trainer.listening.soundness import is_silent

        samples = source.frames(self._sent, source.frame_of(moment)).samples
        if len(samples):
            judging.add(samples)
            while_played = source.frame_of(self.begins + self.played.seconds) - self._sent  # then the next one begins
            self.silent = self.silent and is_silent(samples[: max(0, while_played)])
            self._sent += len(samples)

    def listen_ahead(self, judging: "LiveJudge", reach: float, bands: "Bands", latency: "Latency") -> None:
        """Let the judging listen ahead to what has come in, where there is time for that."""
        written, calibrated, seconds = self.played.written, self.played.latency, self.played.seconds
        if written is None or self.origin is None:
            return
        late, came = latency.seconds(calibrated), reach - self.begins
        left = seconds + late - came - SPARE_S - SPARE_SHARE * seconds
        due = came >= self._looked + max(AHEAD_S, AHEAD_SHARE * came)
        if left >= 0 and (due or (left < LAST_S and came >= self._looked + LAST_S)):
            self._looked = came
            judging.look(question(written, self.played.begins + late - self.origin, bands, calibrated, latency))
