"""An explanation in the words a teacher would use. Every sentence follows from facts of `explain` and nothing else."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trainer.arranging.explain import Explanation, ModeFacts, PairFacts, PartFacts, plain_key
from trainer.arranging.mixed_modes import MixedDegree
from trainer.arranging.motion import IntervalRun, IntervalSummary, Motion
from trainer.arranging.place_words import bars_words, join_words, number_words, place_words
from trainer.arranging.rhythm_cells import Accents
from trainer.arranging.same_pitches import SamePitches
from trainer.music.interval import NUMBER_NAMES
from trainer.music.key import Key
from trainer.music.riff import Riff

ORDINALS = ("", "tonic", "second", "third", "fourth", "fifth", "sixth", "seventh")
"""What degrees of a scale are called."""
MIXED_SHARE = 0.6
"""Below this share of the commonest interval two parts are said to move in several. House rule."""
SHOWN = 3
"""How many single places a sentence names before it only counts them."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One statement."""

    about: str
    """What it tells of: "intervals", "motion", "crossing", "clashes", "mode", "chords", "rhythm", "accents", "lock",
    "range", "same pitches"."""
    parts: tuple[str, ...]
    """The parts it tells of; empty for the whole riff."""
    text: str


def sentences(found: Explanation, riff: Riff) -> tuple[Sentence, ...]:
    """Everything that is worth saying about a riff, from the whole to the parts to the pairs.

    Args:
        found: the riff's facts.
        riff: the riff itself, for its meters.
    """
    told = [*_whole(found)]
    for part in found.parts:
        told += _part(part, found.key)
    for pair in found.pairs:
        told += _pair(pair, riff)
    return tuple(told)


def _whole(found: Explanation) -> Iterator[Sentence]:
    if found.modes:
        for text in mode_sentences(found.modes, found.key, "The riff", found.mixed):
            yield Sentence("mode", (), text)
    for mixed in found.mixed:
        yield Sentence("mode", (), mixed_sentence(mixed, found.key, "The riff"))
    if found.chords:
        bars: dict[int, list[str]] = {}
        for chord in found.chords:
            bars.setdefault(chord.bar, []).append(chord.name)
        row = " | ".join(" ".join(bars.get(bar, ["%"])) for bar in range(1, max(bars) + 1))
        yield Sentence("chords", (), f"Bass and guitars imply: {row}.")


def _part(part: PartFacts, key: Key) -> Iterator[Sentence]:
    name = (part.name,)
    if part.compass:
        (low, high), (thin, thick) = part.compass.frets, part.compass.strings
        strings = f"string {thin}" if thin == thick else f"strings {thin} to {thick}"
        frets = "open strings only" if not high else f"fret {low}" if low == high else f"frets {low} to {high}"
        text = f"{part.name} covers {part.compass.lowest} to {part.compass.highest}, on {strings}, {frets}."
        yield Sentence("range", name, text)
    if part.rhythm.shares:
        told = [f"{round(100 * share)} % {cell}" for cell, share in part.rhythm.shares]
        only = f"{part.name} is {part.rhythm.main} throughout."
        yield Sentence("rhythm", name, only if len(told) == 1 else f"{part.name} is {join_words(told)}.")
    if part.accents.count:
        yield Sentence("accents", name, accent_sentence(part.accents, part.name))
    if part.modes:
        for text in mode_sentences(part.modes, key, part.name, part.mixed):
            yield Sentence("mode", name, text)
    for mixed in part.mixed:
        yield Sentence("mode", name, mixed_sentence(mixed, key, part.name))
    for phrase in part.phrases:
        best = phrase.fits[0]
        whole = part.modes.fits[0].key if part.modes else key
        if any(one.rival == whole and one.names for one in phrase.deciding):
            where = bars_words(tuple(range(phrase.first_bar, phrase.last_bar + 1)))
            yield Sentence("mode", name, f"The phrase of {part.name} in {where} by itself fits {best.key}.")


def mode_sentences(modes: ModeFacts, declared: Key, who: str, mixed: Sequence[MixedDegree] = ()) -> Iterator[str]:
    """Which mode some notes fit, what decides it, what lies outside, and what they cannot tell.

    Notes outside that `mixed` explains are left to its own sentence.
    """
    best = modes.fits[0]
    fits = f"{who} fits {best.key}"
    rivals = [one for one in modes.deciding if one.names][:2]
    if rivals:
        names = join_words([str(name) for name in dict.fromkeys(n for one in rivals for n in one.names)])
        against = join_words([one.rival.mode for one in rivals])
        fits += f"; {names} {'decides' if ' ' not in names else 'decide'} against {against}"
    yield fits + "."
    explained = {name for one in mixed for name in (one.own, one.other)}
    told = [f"{name} ({times}x)" for name, times in best.outside if name not in explained]
    if told:
        yield f"Outside {best.key}: {join_words(told)}."
    ties = [one.rival for one in modes.deciding if one.tie]
    if ties:
        names = join_words([str(name) for name in best.absent])
        verb = "is" if len(best.absent) == 1 else "are"
        yield f"{names} {verb} never heard, so {join_words([str(key) for key in ties])} would do as well."
    if best.key.mode != plain_key(declared).mode:
        yield f"The file says {declared}."


def mixed_sentence(mixed: MixedDegree, key: Key, who: str) -> str:
    """On which degree a line takes another mode's form."""
    degree = ORDINALS[mixed.degree]
    other = f"{mixed.other} in {bars_words(mixed.other_bars)}"
    if not mixed.mixes:
        return f"{who} takes its {degree} from {mixed.mode}: {other}, never {mixed.own}."
    own = f"{mixed.own} in {bars_words(mixed.own_bars)}"
    return f"{who} mixes {plain_key(key).mode} and {mixed.mode}: the {degree} is {own}, {other}."


def accent_sentence(found: Accents, who: str) -> str:
    """Where accents stand in the meter."""
    if found.every is not None and found.against:
        return f"{who} accents every {found.every} of a whole note, against the meter."
    if found.on_first == found.count:
        return f"{who} accents the first count of the bar and nothing else."
    places = [
        f"{count} on {what}"
        for count, what in (
            (found.on_first, "the first count"),
            (found.on_beats, "other beats"),
            (found.off_beats, "off-beats"),
        )
        if count
    ]
    return f"{who} has {found.count} accent{'s' if found.count > 1 else ''}: {join_words(places)}."


def _pair(pair: PairFacts, riff: Riff) -> Iterator[Sentence]:
    names = (pair.one, pair.other)
    if pair.same:
        yield Sentence("same pitches", names, same_sentence(pair.same, pair.one, pair.other))
    elif pair.summary and (not pair.with_bass or pair.summary.share >= MIXED_SHARE):
        yield Sentence("intervals", names, f"{pair.other} moves in {interval_words(pair.summary, pair, riff)}.")
        if pair.motion:
            yield Sentence("motion", names, motion_sentence(pair))
    if pair.crossings:
        bars = tuple(sorted({shared.bar for shared in pair.crossings}))
        yield Sentence("crossing", names, f"{pair.one} and {pair.other} cross in {bars_words(bars)}.")
    if pair.clashes:
        shown = [
            f"{clash.one} against {clash.other} in {place_words(clash.bar, clash.offset, riff.meters[clash.bar - 1])}"
            for clash in pair.clashes[:SHOWN]
        ]
        more = len(pair.clashes) - SHOWN
        rest = f" and {number_words(more)} more" if more > 0 else ""
        places = ", ".join(shown) + rest if rest else join_words(shown)
        yield Sentence("clashes", names, f"{pair.one} and {pair.other} grate: {places}.")
    total = pair.lock.together + pair.lock.only_one + pair.lock.only_other
    if total:
        yield Sentence("lock", names, lock_sentence(pair))


def motion_sentence(pair: PairFacts) -> str:
    """How two parts move against each other."""
    who = f"{pair.one} and {pair.other}"
    if len(pair.motion) == 1:
        only = pair.motion[0][0]
        return f"{who} stay still." if only is Motion.STILL else f"{who} move in {only.value} motion throughout."
    told = [f"{kind.value} {_times(count)}" for kind, count in pair.motion]
    return f"The motion of {who}: {join_words(told)}."


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{number_words(count)} times")


def interval_words(found: IntervalSummary, pair: PairFacts, riff: Riff) -> str:
    """Intervals as a summary: "sixths below guitar 1, the last two notes fourths"."""
    if found.share < MIXED_SHARE:
        told = [f"{_plural(number)} ({count})" for number, count in found.counts]
        return f"{join_words(told)} against {pair.one}"
    same = [shared for shared in pair.line if shared.number == found.main]
    above = sum(shared.above for shared in same)
    side = "above" if above == len(same) else "below" if above == 0 and found.main > 1 else "above and below"
    text = f"{_plural(found.main)} {'with' if found.main == 1 else side} {pair.one}"
    if len(found.exceptions) > SHOWN:
        rest = sum(run.count for run in found.exceptions)
        return f"{text}, {number_words(rest)} of {found.onsets} notes otherwise"
    return ", ".join([text, *(_run_words(run, found, pair, riff) for run in found.exceptions)])


def _run_words(run: IntervalRun, found: IntervalSummary, pair: PairFacts, riff: Riff) -> str:
    """Some notes in a row with another interval: "the last two notes fourths"."""
    what = _plural(run.number) if run.count > 1 else f"{_article(run.number)} {NUMBER_NAMES[run.number - 1]}"
    notes = "note" if run.count == 1 else f"{number_words(run.count)} notes"
    if run.first + run.count == found.onsets:
        return f"the last {notes} {what}"
    if run.first == 0:
        return f"the first {notes} {what}"
    shared = pair.line[run.first]
    where = place_words(shared.bar, shared.offset, riff.meters[shared.bar - 1])
    return f"{'one note' if run.count == 1 else notes} from {where} {what}"


def _article(number: int) -> str:
    return "an" if number == 8 else "a"


def _plural(number: int) -> str:
    return NUMBER_NAMES[number - 1] + "s"


def lock_sentence(pair: PairFacts) -> str:
    """How two rhythms fall together."""
    found = pair.lock
    total = found.together + found.only_one + found.only_other
    if found.together == total:
        return f"{pair.one} and {pair.other} start every note together."
    if not found.together:
        return f"{pair.one} and {pair.other} never start a note together: they fill each other's gaps."
    if not found.only_one:
        return f"{pair.other} strikes with every note of {pair.one} and {number_words(found.only_other)} times more."
    if not found.only_other:
        return f"{pair.one} strikes with every note of {pair.other} and {number_words(found.only_one)} times more."
    return f"{pair.one} and {pair.other} start {found.together} of {total} notes together."


def same_sentence(found: SamePitches, one: str, other: str) -> str:
    """How two parts with the same pitches differ."""
    text = f"{other} plays the pitches of {one}"
    if found.elsewhere:
        where = []
        if abs(found.strings) >= 0.5:
            side = "thicker" if found.strings > 0 else "thinner"
            where.append(f"{number_words(round(abs(found.strings)))} strings {side}")
        if abs(found.frets) >= 0.5:
            side = "higher" if found.frets > 0 else "lower"
            where.append(f"{number_words(round(abs(found.frets)))} frets {side}")
        text += f" elsewhere on {found.elsewhere} of {found.onsets} onsets"
        text += f", on average {join_words(where)}" if where else ""
    else:
        text += " at the same places"
    for who, only in ((one, found.only_one), (other, found.only_other)):
        if only:
            text += f"; only {who} has {join_words([f'{name} ({count})' for name, count in only])}"
    return text + "."
