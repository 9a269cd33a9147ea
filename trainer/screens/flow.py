"""The sound of the pass that is being played, handed on piece by piece to whoever judges it, and heard ahead."""

from typing import TYPE_CHECKING

from trainer.screens.asked import Asked, Underway
from trainer.screens.ears import FlowingEar

if TYPE_CHECKING:
    from trainer.listening.ahead import Judging, Question
    from trainer.listening.bands import Bands
    from trainer.listening.written import Written
    from trainer.screens.found_late import FoundLate
    from trainer.screens.known_late import Known

BEFORE_S = 0.15
"""What is cut out before a pass begins."""
LONGEST_S = 600.0
"""No longer pass is judged: ten minutes are 115 MB of sound."""
AHEAD_S, AHEAD_SHARE = 1.0, 0.1
"""How much more must have come until it is heard ahead again: so many seconds, and such a share of what has come."""
SPARE_S, SPARE_SHARE = 0.35, 0.01
"""Before the end of a pass nothing is heard ahead, which might hold up the judging: so many seconds, and such a share
of the pass."""
LAST_S = 0.3
"""Just before that it is heard ahead once more, whatever has come, so that as little as can be is left."""


def question(  # noqa: PLR0917  # the last one has a default
    written: "Written",
    begins_s: float,
    bands: "Bands",
    known: "Known | None",
    found: "FoundLate",
    warnings: tuple[str, ...] = (),
) -> "Question":
    """What is asked of the take of a pass.

    Args:
        written: what it must hold.
        begins_s: second of the take at which it begins.
        bands: by which it is judged.
        known: how late it is heard, where calibration tells.
        found: and as the passes before tell.
        warnings: what has spoilt it.
    """
    from trainer.listening.ahead import Question

    within = 0.0 if known is None else known.within_ms
    return Question(written, begins_s, bands, known is not None, within, found.guesses(known), warnings)


class Flow:
    """The sound of one pass."""

    def __init__(self, played: Underway, now: float) -> None:
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
        """The moment at which it is cut out; None before anything of it was handed on."""
        self.silent = True
        """Whether nothing at all came while it was played."""
        self._first = self._sent = 0
        self._looked = 0.0

    def is_of(self, played: Underway | Asked) -> bool:
        """Whether that is this pass."""
        return played.start == self.played.start

    def goes_on(self, played: Underway, now: float) -> None:
        """It is still played."""
        self.last = now
        self.played = played.after(self.played)

    @property
    def too_long(self) -> bool:
        """Whether it is longer than what is judged."""
        return self.played.seconds > LONGEST_S

    def hand_on(self, ear: FlowingEar, judging: "Judging", reach: float, found: "FoundLate") -> None:
        """Hand on what has come.

        Args:
            ear: the open input.
            judging: who judges.
            reach: the moment up to which it has come.
            found: how late it comes; told where hearing ahead tells.
        """
        known = self.played.known
        if self.origin is None:
            if reach < self.begins:
                return
            self._first = self._sent = ear.frame_of(self.begins + found.of(known) - BEFORE_S)
            self.origin = ear.moment_of(self._first)
            judging.begin(ear.rate, lambda: ear.frames(self._first, self._sent).samples)
        self.hand_on_to(ear, judging, reach)
        began = judging.looked()
        if began is not None and known is None:
            found.tell(self.origin + began - self.begins)

    def hand_on_to(self, ear: FlowingEar, judging: "Judging", moment: float) -> None:
        """Hand on what came up to a moment."""
        from trainer.listening.soundness import is_silent

        samples = ear.frames(self._sent, ear.frame_of(moment)).samples
        if len(samples):
            judging.add(samples)
            while_played = ear.frame_of(self.begins + self.played.seconds) - self._sent  # after it the next one begins
            self.silent = self.silent and is_silent(samples[: max(0, while_played)])
            self._sent += len(samples)

    def hear_ahead(self, judging: "Judging", reach: float, bands: "Bands", found: "FoundLate") -> None:
        """Let what has come be heard ahead, where there is time for that."""
        written, known, seconds = self.played.written, self.played.known, self.played.seconds
        if written is None or self.origin is None:
            return
        late, came = found.of(known), reach - self.begins
        left = seconds + late - came - SPARE_S - SPARE_SHARE * seconds
        due = came >= self._looked + max(AHEAD_S, AHEAD_SHARE * came)
        if left >= 0 and (due or (left < LAST_S and came >= self._looked + LAST_S)):
            self._looked = came
            judging.look(question(written, self.played.begins + late - self.origin, bands, known, found))
