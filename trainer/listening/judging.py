"""The verdict on a take: clean, missed or unjudged, why, and what to do next.

`judge_sound` and `judge_midi` go the whole way from a take to a judgement; `judged` gives the verdict on a take that
is already laid over its part. Where the take could not be followed nothing is invented: the pass is unjudged, and a
sentence says what seems to be the matter.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from statistics import median

from trainer.listening.advice import Advice, advise
from trainer.listening.bands import Bands
from trainer.listening.estimate import robust_spread
from trainer.listening.faults import Fault, by_weight, find_faults
from trainer.listening.hearing import hear
from trainer.listening.midi_matching import match_midi
from trainer.listening.midi_take import MidiTake
from trainer.listening.performance import Performance, performed
from trainer.listening.sound import Sound
from trainer.listening.soundness import refusal, warnings
from trainer.listening.timing import LEAST_GROUP, Timing, around_figures, timing
from trainer.listening.wording import number
from trainer.listening.written import WrittenPart
from trainer.practice.verdict import MOST_REASONS, Judge, Measured, Outcome, Reason, Verdict

CLAIMS = 12
"""Groups that are looked at in a usual take; each interval is widened so that all hold at once (Bonferroni)."""


@dataclass(frozen=True, slots=True)
class JudgeSettings:
    """How takes are judged."""

    bands: Bands = field(default_factory=Bands)
    start_s: float | None = None
    """Second of the take at which the part begins, by calibration; None when it is not known."""
    within_ms: float = 0.0
    """How far that may be wrong: less is told neither of early nor of late."""
    loop: Sound | None = None
    """What the tool played while the take was recorded; where it comes through the microphone, that is told."""
    confidence: float = 0.95
    """Of the intervals that are shown; claims are held to a stricter one."""
    other_tempos: bool = True
    """Whether half and twice the tempo are tried where a sound cannot be followed."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """Everything that is known about one take.

    >>> from trainer.listening.midi_take import MidiNote
    >>> from trainer.listening.written import WrittenStroke
    >>> eighth = Fraction(1, 4)
    >>> part = WrittenPart(tuple(WrittenStroke(n * eighth, eighth, (40 + n,)) for n in range(8)), length=8 * eighth)
    >>> take = MidiTake(tuple(MidiNote(1 + stroke.at, stroke.pitches[0]) for stroke in part.strokes))
    >>> judge(take, part).verdict.outcome
    <Outcome.CLEAN: 'clean'>
    """

    verdict: Verdict
    performance: Performance | None = None
    timing: Timing | None = None
    """With intervals as they are shown."""
    faults: tuple[Fault, ...] = ()
    """All of them; the verdict holds the first three."""
    action: Advice | None = None
    habit: str = ""
    """What is steady and no fault, as a sentence."""
    warnings: tuple[str, ...] = ()
    """What may have spoilt the take: clipping, a loop that came through the microphone."""


def unjudged(sentence: str, performance: Performance | None = None, warned: tuple[str, ...] = ()) -> Judgement:
    """A judgement that says it could not follow, and why."""
    verdict = Verdict(Outcome.UNJUDGED, Judge.TAKE, (Reason(sentence),))
    return Judgement(verdict, performance, warnings=warned)


def judge(take: Sound | MidiTake, written: WrittenPart, settings: JudgeSettings | None = None) -> Judgement:
    """Judge a take of either kind against the written part."""
    if isinstance(take, MidiTake):
        return judge_midi(take, written, settings)
    return judge_sound(take, written, settings)


def judge_sound(sound: Sound, written: WrittenPart, settings: JudgeSettings | None = None) -> Judgement:
    """Judge an audio take of one guitarist against the written part."""
    settings = settings or JudgeSettings()
    refused = refusal(sound)
    if refused:
        return unjudged(refused)
    starts = None if settings.start_s is None else [(settings.start_s, 1.0)]
    hearing = hear(sound, written, starts)
    performance = performed(hearing, written, settings.start_s)
    told = judged(performance, settings, warnings(sound, settings.loop))
    if told.verdict.outcome is Outcome.UNJUDGED and settings.start_s is None and settings.other_tempos:
        said = sounds_like(sound, performance, settings.bands)
        return unjudged(said, performance, told.warnings) if said else told
    return told


def sounds_like(sound: Sound, performance: Performance, bands: Bands) -> str:
    """What a take that could not be followed sounds like, if that is half or twice the tempo; else empty."""
    written = performance.written
    for rate, words in ((2.0, "half"), (0.5, "twice")):
        other = performed(hear(sound, _stretched(written, rate), None), _stretched(written, rate))
        if _could_follow(other.alone, bands) and _explained(other) > _explained(performance) + 0.1:
            at = f"Could not match this take at {written.tempo_bpm:g} bpm"
            return f"{at}: this sounds like {words} the tempo, {written.tempo_bpm / rate:g} bpm."
    return ""


def judge_midi(take: MidiTake, written: WrittenPart, settings: JudgeSettings | None = None) -> Judgement:
    """Judge a MIDI take against the written part, to the tick."""
    settings = settings or JudgeSettings()
    if not take.notes:
        return unjudged("The take holds no notes: check the cable, the channel and the port.")
    start = None if settings.start_s is None else Fraction(settings.start_s)
    return judged(match_midi(take, written, start), settings)


def judged(performance: Performance, settings: JudgeSettings, warned: tuple[str, ...] = ()) -> Judgement:
    """The verdict on a take that is laid over its part."""
    bands, performance = settings.bands, performance.alone
    if not _could_follow(performance, bands):
        return unjudged(_why_not(performance, bands), performance, warned)
    shown = _unsure(timing(performance, bands, settings.confidence), settings.within_ms + performance.blur_ms)
    surer = 1 - (1 - settings.confidence) / CLAIMS
    strict = timing(performance, bands, surer)
    faults = by_weight([*_silent_bars(performance), *find_faults(performance, strict, bands, surer)])
    outcome = Outcome.MISSED if any(fault.fails for fault in faults) else Outcome.CLEAN
    reasons = tuple(fault.reason for fault in faults[:MOST_REASONS])
    verdict = Verdict(outcome, Judge.TAKE, reasons, _measured(performance, shown, bands))
    action = advise(performance.written, faults, outcome)
    habit = f"{_habit(shown, bands)}{_strums(performance)}"
    return Judgement(verdict, performance, shown, faults, action, habit, warned)


def _unsure(told: Timing | None, within_ms: float) -> Timing | None:
    """With the bias as unsure as the calibration and the beginnings of the attacks are."""
    if told is None or not within_ms:
        return told
    bias = replace(told.bias, low=told.bias.low - within_ms, high=told.bias.high + within_ms)
    return replace(told, bias=bias)


def _stretched(written: WrittenPart, rate: float) -> WrittenPart:
    """The part at another tempo."""
    by = Fraction(rate)
    strokes = tuple(replace(stroke, at=stroke.at * by, length=stroke.length * by) for stroke in written.strokes)
    return replace(written, strokes=strokes, length=written.length * by, others=())


def _explained(performance: Performance) -> float:
    """Share of all written strokes that were found at their pitch."""
    return performance.agreed * sum(not item.missed for item in performance.strokes) / len(performance.strokes)


def _could_follow(performance: Performance, bands: Bands) -> bool:
    """Whether the matches are more than chance."""
    off = [item.deviation_ms for item in performance.strokes if item.deviation_ms is not None]
    return (
        len(off) >= LEAST_GROUP
        and performance.followed >= bands.least_followed
        and performance.agreed >= bands.least_agreed
        and performance.clarity >= bands.least_clear
        and (robust_spread(off) <= bands.wildest_ms or _spread_beside(performance) <= bands.wildest_ms / 2)
        and _right(performance, bands) >= bands.least_right
    )


CROWDED = 0.25
"""Extras beyond this share of the judged strokes speak against the part."""
NEIGHBOURS = 9
"""Matched strokes whose middle deviation is a stroke's own time, so that a slow drift is followed."""


def _right(performance: Performance, bands: Bands) -> float:
    """Share of the judged strokes that were found at their pitch and beside their neighbours in time.

    Where far more was played than is written, what nobody wrote counts as not found.
    """
    heard = [item for item in performance.judged if item.deviation_ms is not None]
    beside = _beside_neighbours([item.deviation_ms or 0.0 for item in heard])
    right = sum(not item.shift and abs(off) <= bands.wildest_ms for item, off in zip(heard, beside, strict=True))
    asked = len(performance.judged)
    return right / (asked + max(0.0, len(performance.extras) - CROWDED * asked)) if asked else 0.0


def _spread_beside(performance: Performance) -> float:
    """Spread around neighbours and places in the figure: neither drift nor a flattened gallop makes it wide."""
    heard = [item for item in performance.strokes if item.deviation_ms is not None]
    return robust_spread(_beside_neighbours(around_figures([item.deviation_ms or 0.0 for item in heard], heard)))


def _beside_neighbours(off: Sequence[float]) -> list[float]:
    """Deviations of strokes in a row, each from the middle of its neighbours'."""
    firsts = (max(0, min(i - NEIGHBOURS // 2, len(off) - NEIGHBOURS)) for i in range(len(off)))
    return [value - median(off[first : first + NEIGHBOURS]) for value, first in zip(off, firsts, strict=True)]


def _why_not(performance: Performance, bands: Bands) -> str:
    """Why a take could not be followed, as far as it shows."""
    if performance.clarity < bands.least_clear:
        return "Could not match this take: there is sound, but no notes. Is it the guitar's own signal?"
    shifts = [item.shift for item in performance.strokes if not item.missed and item.shift is not None]
    if performance.followed >= bands.least_followed and len(shifts) >= 4:
        shift, count = Counter(shifts).most_common(1)[0]
        if shift and count >= 0.7 * len(shifts):
            way = "lower" if shift < 0 else "higher"
            steps = f"{number(abs(shift))} semitone{'s' if abs(shift) > 1 else ''}"
            return f"Everything sounds {steps} {way} than written: tune the guitar, or set the part's tuning to yours."
        if performance.agreed < bands.least_agreed:
            return (
                "Could not match this take: the rhythm fits, but the notes are not those of this part. "
                "Is it another riff or part?"
            )
    matched = round(_right(performance, bands) * len(performance.judged))
    if len(performance.strokes) < LEAST_GROUP:
        return f"Fewer than {number(LEAST_GROUP)} strokes are written here: too few to judge a take by."
    if len(performance.strokes) - matched <= LEAST_GROUP:
        return "Could not match this take: the notes are too far from their places. Is it this riff, at this tempo?"
    return (
        f"Could not match this take: {matched} of {len(performance.strokes)} notes found. "
        "Is it this riff, at this tempo, and one guitar alone?"
    )


def _silent_bars(performance: Performance) -> list[Fault]:
    """What the player did not come to: the rest is judged without it."""
    judged = performance.judged
    inside = {id(item) for item in judged}
    left = [item.stroke for item in performance.strokes if id(item) not in inside]
    if not left:
        return []
    silent = sorted({stroke.bar for stroke in left} - {item.stroke.bar for item in judged})
    first = left[0]
    if not silent:
        late = first.at < judged[0].stroke.at
        place = judged[0].stroke.place if late else judged[-1].stroke.place
        spoken = f"The take {'begins at' if late else 'stops after'} {place}"
    elif silent[-1] - silent[0] + 1 == len(silent):
        spoken = (
            f"Bar {silent[0]} was not heard" if len(silent) == 1 else f"Bars {silent[0]} to {silent[-1]} were not heard"
        )
    else:
        spoken = f"{number(len(silent)).capitalize()} bars, the first of them bar {silent[0]}, were not heard"
    bars = (silent[0], silent[-1]) if silent else (first.bar, left[-1].bar)
    reason = Reason(f"{spoken}; the verdict is on what was played.", bars[0], first.count, "")
    brief = f"{'bar' if bars[0] == bars[1] else 'bars'} {'-'.join(str(bar) for bar in dict.fromkeys(bars))}: not heard"
    return [Fault("silent", reason, bars, True, brief, len(left))]


def _habit(told: Timing | None, bands: Bands) -> str:
    """The steady part of a player's timing, worded as a habit."""
    if told is None:
        return ""
    spread = f"The strokes scatter by {told.spread_ms:.0f} ms"
    tight = "; tighter than can be heard." if told.spread_ms <= bands.noticed_ms else "."
    if not told.bias_known:
        return f"{spread}{tight} Early or late as a whole is not known without calibration."
    if told.bias.beyond(bands.noticed_ms):
        way = "behind" if told.bias.value > 0 else "ahead of"
        return (
            f"You play {abs(told.bias.value):.0f} ms {way} the click, steadily: a habit, not an error. {spread}{tight}"
        )
    if abs(told.bias.value) > bands.noticed_ms:
        way = "behind" if told.bias.value > 0 else "ahead of"
        return f"{spread}{tight} You may be {way} the click as a whole, by less than can be told for sure."
    return f"{spread}{tight} You sit on the click."


def _strums(performance: Performance) -> str:
    """How far the strings of chords lie apart, where enough of it is known; never blamed."""
    told = [item.strum_ms for item in performance.judged if item.strum_ms is not None]
    return f" The strings of your chords follow within {median(told):.0f} ms." if len(told) >= LEAST_GROUP else ""


def _measured(performance: Performance, told: Timing | None, bands: Bands) -> Measured:
    """The figures for the log."""
    items = performance.judged
    matched = [item for item in items if not item.missed]
    off = {id(item) for unit in (told.units if told else ()) if unit.band >= 3 for item in unit.strokes}
    clean = sum(not item.missed and not item.wrong and id(item) not in off for item in items)
    gallop = told.gallop_of_two if told else None
    return Measured(
        bias_ms=round(told.bias.value, 2) if told and told.bias_known else None,
        spread_ms=round(told.spread_ms, 2) if told else None,
        drift_ms=round(told.drift.value, 2) if told else None,
        gallop_ratio=round(gallop.value, 3) if gallop else None,
        gallop_low=round(gallop.low, 3) if gallop else None,
        gallop_high=round(gallop.high, 3) if gallop else None,
        clean_share=clean / len(items) if items else None,
        notes=len(items),
        matched=len(matched),
        missed=len(items) - len(matched),
        wrong=sum(item.wrong for item in items),
        extra=len(performance.extras),
    )


GUESSES_S = (-0.06, 0.0, 0.06, 0.12, 0.2)
"""Where a pass may begin, around where it should, when the round trip is not calibrated."""

ELSEWHERE = (
    "The pass came in elsewhere than calibration says, so early or late as a whole is not known: calibrate again."
)


def judge_cut_pass(
    take: Sound | MidiTake,
    begins_s: float,
    written: WrittenPart,
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
    how = JudgeSettings(bands or Bands(), start, within_ms)
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
