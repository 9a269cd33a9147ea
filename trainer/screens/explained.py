"""What the explain pane says: what a part asks of the hands at a tempo, then what the riff and the part are made of."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from trainer.arranging.abilities import TRAINED, Abilities
from trainer.arranging.demand import Demand, demand
from trainer.arranging.demand_words import bpm_words, limit_words, load_place, load_words, trouble_sentences
from trainer.arranging.explain import explain
from trainer.arranging.place_words import bars_words
from trainer.arranging.sentences import Sentence, sentences
from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff

CEILINGS = 3
"""So many of the nearest ceilings are named. House rule."""


@dataclass(frozen=True, slots=True)
class Topic:
    """Some sentences under a heading."""

    heading: str
    sentences: tuple[str, ...]


def explained(
    riff: Riff, mine: str, bpm: Fraction, letters: Mapping[str, str], abilities: Abilities = TRAINED
) -> tuple[Topic, ...]:
    """Everything that is said of a riff and a part of it, the most pressing first.

    Args:
        riff: the riff, its harmonies computed.
        mine: the part.
        bpm: the tempo it is played at.
        letters: for each part its letter on the stand.
        abilities: the limits that demands are measured against.
    """
    part = riff.part(mine)
    who = f"{letters.get(mine, '')} {mine}".strip()
    asked = _asked(part, riff, bpm, abilities) if isinstance(part, TabPart) else _NO_PITCHES
    told = sentences_of(riff)
    whole = tuple(one.text for one in told if not one.parts)
    own = tuple(one.text for one in told if one.parts == (mine,))
    pairs = tuple(one.text for one in told if len(one.parts) > 1 and mine in one.parts)
    found = [
        Topic(f"{who} at {bpm_words(bpm)} bpm", asked),
        Topic(riff.name, whole),
        Topic(who, own),
        Topic(f"{who} and the others", pairs),
    ]
    return tuple(one for one in found if one.sentences)


_NO_PITCHES = ("It has no pitches: there is nothing to finger.",)


@lru_cache(maxsize=32)
def sentences_of(riff: Riff) -> tuple[Sentence, ...]:
    """The sentences of a riff."""
    return sentences(explain(riff), riff)


@lru_cache(maxsize=128)
def demand_of(part: TabPart, riff: Riff, bpm: Fraction, abilities: Abilities = TRAINED) -> Demand:
    """What a part asks for. Raises ProblemsError for what no neck holds."""
    return demand(part, riff, bpm=bpm, abilities=abilities)


def demand_told(found: Demand, riff: Riff) -> tuple[str, ...]:
    """What a part asks for at a tempo: the hardest place, the same at the target, the ceilings, bars to practise."""
    if not found.limits:
        return (f"{found.part} asks nothing of the hands.",)
    hardest = found.limits[0]
    where = load_place(hardest, riff)
    told = [f"Hardest in {where}: {load_words(hardest)}, {hardest.share:.0%} of the limit."]
    target = riff.tempo.target
    if hardest.limit_bpm is not None and target != found.bpm:
        share = float(target) / hardest.limit_bpm
        told.append(f"At the target of {bpm_words(target)} bpm that is {share:.0%} of it.")
    if found.share > 1:
        told.append("That is beyond the limits set for the hands.")
    nearest = sorted(
        (load for load in found.limits if load.limit_bpm is not None), key=lambda load: load.limit_bpm or 0
    )
    told += [f"{limit_words(load)}." for load in nearest[:CEILINGS]]
    if found.all_down_bpm is not None:
        told.append(f"All downstrokes: limit about {int(found.all_down_bpm + 0.01)} bpm.")
    if found.alone:
        told.append(f"Practise {bars_words(found.alone)} alone.")
    return (*told, *trouble_sentences(found.troubles, riff))


def _asked(part: TabPart, riff: Riff, bpm: Fraction, abilities: Abilities) -> tuple[str, ...]:
    try:
        return demand_told(demand_of(part, riff, bpm, abilities), riff)
    except ProblemsError as error:
        return tuple(str(problem) for problem in error.problems)
