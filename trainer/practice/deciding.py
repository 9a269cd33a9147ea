"""Who decides how a pass went: the player's key, the take, or both; and the verdict that comes of it."""

from enum import StrEnum

from trainer.practice.verdict import Judge, Outcome, Verdict


class Decides(StrEnum):
    """Whose word counts on the ladder."""

    KEY = "key"
    TAKE = "take"
    BOTH = "both"


def decided(decides: Decides, said: Outcome, heard: Verdict | None) -> Verdict:
    """The verdict on a pass; whatever was measured stays with it, whoever decides.

    Args:
        decides: whose word counts.
        said: what the player said; unjudged where nothing was said.
        heard: what the take says; None while there is no take, or for good.

    Returns:
        For `BOTH`: missed as soon as one says so, clean once both do, unjudged until then.
    """
    measured = heard.measured if heard is not None else None
    if decides is Decides.KEY:
        return Verdict(said, Judge.PLAYER, measured=measured)
    if decides is Decides.TAKE:
        return heard if heard is not None else Verdict(Outcome.UNJUDGED, Judge.TAKE)
    words = {said, heard.outcome if heard is not None else Outcome.UNJUDGED}
    reasons = heard.reasons if heard is not None else ()
    outcome = Outcome.MISSED if Outcome.MISSED in words else words.pop() if len(words) == 1 else Outcome.UNJUDGED
    judge = Judge.TAKE if heard is not None and heard.counts else Judge.PLAYER
    return Verdict(outcome, judge, reasons, measured)
