"""A demand and a fingering's troubles in words; every sentence follows from one fact."""

from collections.abc import Sequence
from fractions import Fraction

from trainer.arranging.answers import Change
from trainer.arranging.demand import Demand, Load
from trainer.arranging.fingered import Trouble
from trainer.arranging.place_words import bars_words, place_words
from trainer.music.riff import Riff

LOAD_WORDS = {
    "notes": "the fretting hand plays {value:.1f} notes a second",
    "swings": "the picking hand swings {value:.1f} times a second",
    "burst": "the pick must be back in {ms:.0f} ms",
    "crossings": "the pick changes strings {value:.1f} times a second",
    "shift": "the hand moves at {value:.0f} mm a second",
    "return": "one finger must be elsewhere in {ms:.0f} ms",
    "stretch": "the fingers span {value:.0f} mm",
}
"""What each load of `demand.UNITS` is told as."""


def demand_sentences(found: Demand, riff: Riff) -> tuple[str, ...]:
    """What a part asks for: the hardest place, where each ceiling lies, where to begin, what to practise alone."""
    if not found.limits:
        return (f"{found.part} asks nothing of the hands.",)
    hardest = found.limits[0]
    told = [f"At {bpm_words(found.bpm)} bpm, hardest in {load_place(hardest, riff)}: {load_words(hardest)}."]
    told += [f"{limit_words(load)}." for load in found.limits if load.limit_bpm is None or load.limit_bpm < _far(found)]
    if found.share > 1:
        told.append("That is beyond the ceilings set for the hands.")
    if found.all_down_bpm is not None:
        told.append(f"All down it ends at {int(found.all_down_bpm + 0.01)} bpm.")
    told.append(f"Begin the climb at {found.start_bpm} bpm.")
    if found.alone:
        told.append(f"Practise {bars_words(found.alone)} alone.")
    return (*told, *trouble_sentences(found.troubles, riff))


def _far(found: Demand) -> float:
    """Ceilings farther away than twice the tempo are not worth a sentence."""
    return 2 * float(found.bpm)


def load_words(load: Load) -> str:
    """One load in words, with its figure."""
    return LOAD_WORDS[load.name].format(value=load.value, ms=1000 / load.value)


def limit_words(load: Load) -> str:
    """Where a load's ceiling lies."""
    if load.limit_bpm is None:
        return f"{load_words(load)[0].upper()}{load_words(load)[1:]}, {load.share:.0%} of the reach, at any tempo"
    return f"The ceiling of {load.name} is reached at {int(load.limit_bpm + 0.01)} bpm"


def load_place(load: Load, riff: Riff) -> str:
    """Where a load is hardest."""
    starts = riff.bar_starts
    bar = max(index for index, start in enumerate(starts[:-1]) if start <= load.at)
    return place_words(bar + 1, load.at - starts[bar], riff.meters[bar])


def bpm_words(bpm: Fraction) -> str:
    """A tempo without needless decimals."""
    return f"{float(bpm):g}"


def trouble_sentences(troubles: Sequence[Trouble], riff: Riff) -> tuple[str, ...]:
    """What no hand can do, each with its place."""
    return tuple(f"In {place_words(one.bar, one.offset, riff.meters[one.bar - 1])}, {one.what}." for one in troubles)


def change_sentences(changes: Sequence[tuple[str, Change]], riff: Riff) -> tuple[str, ...]:
    """Where a harmony does not stand at the interval asked for, and why."""
    told = []
    for name, one in changes:
        where = place_words(one.bar, one.offset, riff.meters[one.bar - 1])
        if one.why == "range":
            told.append(f"{name} plays {one.played} for {one.asked} in {where}, to stay in its range.")
        elif one.played == one.asked:
            told.append(f"{name} grates with {one.asked} in {where}, and no other interval does better.")
        else:
            told.append(f"{name} plays {one.played} for {one.asked} in {where}: {one.asked} would grate.")
    return tuple(told)
