"""Judging one pass that was cut out of a longer recording: what belongs to the passes before and after is left out."""

from collections.abc import Sequence
from dataclasses import replace

from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement, Settings, judged, unjudged
from trainer.listening.midi_take import MidiTake
from trainer.listening.sound import Sound
from trainer.listening.timing import LEAST_GROUP
from trainer.listening.written import Written

GUESSES_S = (-0.06, 0.0, 0.06, 0.12, 0.2)
"""Where a pass may begin, around where it should, when the round trip is not calibrated."""

ELSEWHERE = (
    "The pass came in elsewhere than calibration says, so early or late as a whole is not known: calibrate again."
)


def judge_cut_pass(
    take: Sound | MidiTake,
    begins_s: float,
    written: Written,
    bands: Bands | None = None,
    *,
    known: bool = False,
    within_ms: float = 0.0,
    guesses: Sequence[float] | None = None,
) -> Judgement:
    """Judge a pass; where the round trip is not known, early or late as a whole is not told.

    Args:
        take: what came in around the pass, with some of its neighbours.
        begins_s: second of the take at which the pass begins; about, unless it is known.
        written: one pass of the part.
        bands: what is late; None for the usual.
        known: whether calibration tells the begin.
        within_ms: how far that may be wrong.
        guesses: seconds by which the begin may be off, to be tried; None for the usual.
    """
    start = begins_s if known else None
    how = Settings(bands or Bands(), start, within_ms)
    if isinstance(take, MidiTake):
        from trainer.listening.midi_matching import match_midi

        if not take.notes:
            return unjudged("No note came in: check the cable, the channel and the port.")
        return judged(match_midi(take, written), how)
    from trainer.listening.hearing import hear
    from trainer.listening.performance import performed
    from trainer.listening.soundness import NOTHING, is_silent, refusal, warnings

    refused = refusal(take)
    if refused:
        return unjudged(refused)
    if len(written.strokes) >= LEAST_GROUP:
        enough_s = begins_s + float(written.strokes[-LEAST_GROUP].at)
        if enough_s > 0 and is_silent(take.samples[: round(enough_s * take.rate)]):
            return unjudged(NOTHING)  # what comes after is too little to judge, or of the next pass
    if guesses is None:
        guesses = (0.0,) if known else GUESSES_S
    hearing = hear(take, written, [(begins_s + guess, 1.0) for guess in guesses])
    judgement = judged(performed(hearing, written, start), how, warnings(take, None))
    if known and not judgement.verdict.counts:
        elsewhere = judge_cut_pass(take, begins_s, written, bands)
        if elsewhere.verdict.counts:
            return replace(elsewhere, warnings=(*elsewhere.warnings, ELSEWHERE))
    return judgement
