"""A demand and a fingering's troubles in words; every sentence follows from one fact."""

from collections.abc import Collection, Sequence
from fractions import Fraction

from trainer.arranging.answers import HarmonyChange
from trainer.arranging.demand import Demand, Load
from trainer.arranging.fingered import HandTrouble
from trainer.arranging.place_words import bars_words, join_words, number_words, place_words
from trainer.music.riff import Riff

LOAD_WORDS = {
    "notes": "the fretting hand plays {value:.1f} notes a second",
    "swings": "the picking hand makes {value:.1f} strokes a second, those in the air included",
    "burst": "the pick must be back in {ms:.0f} ms",
    "crossings": "the pick changes strings {value:.1f} times a second",
    "shift": "the hand moves at {value:.0f} mm a second",
    "return": "one finger must be elsewhere in {ms:.0f} ms",
    "stretch": "the fingers span {value:.0f} mm",
}
"""What each load of `demand.UNITS` is told as."""
LIMIT_WORDS = {
    "notes": "Fretting hand: the limit of {limit:.0f} notes a second",
    "swings": "Picking hand: the limit of {limit:.1f} strokes a second",
    "burst": "Picking hand: the limit for two strokes in a row",
    "crossings": "Picking hand: the limit of {limit:.0f} string changes a second",
    "shift": "Fretting hand: the limit for a shift along the neck",
    "return": "Fretting hand: the limit for one finger's move",
}
"""What each load's limit is called."""
CARE = "Stop when it hurts; if the pain stays, ask a doctor or a physiotherapist."
HOUSE_RULES = f"The limits are house rules for trained hands, not yours. {CARE}"
OWN_LIMITS = f"Limits of your own: {{names}}; the others are house rules for trained hands. {CARE}"
OWN_WORDS = {"strokes": "strokes", "notes": "notes", "string_changes": "string changes"}
"""What a sentence calls each limit of `abilities.OWN`."""


def demand_sentences(found: Demand, riff: Riff, own: Collection[str] = ()) -> tuple[str, ...]:
    """What a part asks for: the hardest place, where each limit lies, where to begin, what to practise alone.

    Args:
        found: the demand.
        riff: the riff it was measured in.
        own: which limits are the player's own, by their names in `abilities.OWN`.
    """
    if not found.limits:
        return (f"{found.part} asks nothing of the hands.",)
    hardest = found.limits[0]
    told = [
        f"At {bpm_words(found.bpm)} bpm, hardest in {load_place(hardest, riff)}: {load_words(hardest)}, "
        f"{hardest.share:.0%} of the limit."
    ]
    told += [f"{limit_words(load)}." for load in found.limits if load.limit_bpm is None or load.limit_bpm < _far(found)]
    if found.share > 1:
        told.append("That is beyond the limits set for the hands.")
    if found.all_down_bpm is not None:
        told.append(f"All downstrokes: limit about {int(found.all_down_bpm + 0.01)} bpm.")
    told += endurance_sentences(found, riff)
    told.append(start_sentence(found, riff))
    if found.alone:
        told.append(f"Practise {bars_words(found.alone)} alone.")
    limits = OWN_LIMITS.format(names=join_words([OWN_WORDS[name] for name in own])) if own else HOUSE_RULES
    return (*told, *trouble_sentences(found.troubles, riff), limits)


def start_sentence(found: Demand, riff: Riff) -> str:
    """Where to begin the climb, and why there."""
    own = riff.tempo.start
    if found.start_bpm == int(own):
        return f"Begin the climb at {found.start_bpm} bpm, the exercise's own start."
    share = f"{float(own) / found.limit_bpm:.0%}" if found.limit_bpm else "too much"
    return (
        f"Begin the climb at {found.start_bpm} bpm: the exercise's own start of {bpm_words(own)} "
        f"is already {share} of the first limit."
    )


def endurance_sentences(found: Demand, riff: Riff) -> tuple[str, ...]:
    """How long the hands play without a rest of a beat."""
    if not found.without_rest_bars:
        return ()
    if found.without_rest_bars >= len(riff.meters):
        return ("There is no rest in it: looped, the hands never stop. Leave a bar out before the arm tires.",)
    if found.without_rest_bars < 2:
        return ()
    return (f"The longest stretch without a rest is {number_words(round(found.without_rest_bars))} bars.",)


def _far(found: Demand) -> float:
    """Limits farther away than twice the tempo are not worth a sentence."""
    return 2 * float(found.bpm)


def load_words(load: Load) -> str:
    """One load in words, with its figure."""
    return LOAD_WORDS[load.name].format(value=load.value, ms=1000 / load.value)


def limit_words(load: Load) -> str:
    """Where a load's limit lies."""
    if load.limit_bpm is None:
        return f"{load_words(load)[0].upper()}{load_words(load)[1:]}, {load.share:.0%} of the reach, at any tempo"
    what = LIMIT_WORDS[load.name].format(limit=load.value / load.share)
    return f"{what} is reached at {int(load.limit_bpm + 0.01)} bpm"


def load_place(load: Load, riff: Riff) -> str:
    """Where a load is hardest."""
    starts = riff.bar_starts
    bar = max(index for index, start in enumerate(starts[:-1]) if start <= load.at)
    return place_words(bar + 1, load.at - starts[bar], riff.meters[bar])


def bpm_words(bpm: Fraction) -> str:
    """A tempo without needless decimals."""
    return f"{float(bpm):g}"


def trouble_sentences(troubles: Sequence[HandTrouble], riff: Riff) -> tuple[str, ...]:
    """What no hand can do, each with its place."""
    return tuple(f"In {place_words(one.bar, one.offset, riff.meters[one.bar - 1])}, {one.what}." for one in troubles)


def change_sentences(changes: Sequence[tuple[str, HarmonyChange]], riff: Riff) -> tuple[str, ...]:
    """Where a harmony does not stand at the interval asked for, and why."""
    told = []
    for name, one in changes:
        where = place_words(one.bar, one.offset, riff.meters[one.bar - 1])
        if one.why == "range":
            told.append(f"{name} plays {one.played} for {one.asked} in {where}, to stay in its range.")
        elif one.played == one.asked:
            told.append(f"{name} clashes with {one.asked} in {where}, and no other interval does better.")
        else:
            told.append(f"{name} plays {one.played} for {one.asked} in {where}: {one.asked} would clash.")
    return tuple(told)
