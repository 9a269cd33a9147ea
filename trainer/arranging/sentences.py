"""An explanation in the words a teacher would use. Every sentence follows from facts of `explain` and nothing else."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from trainer.arranging.explain import Explanation, ModeFacts, PairFacts, PartFacts, plain_key
from trainer.arranging.figures import FigureCatalogue, Return
from trainer.arranging.mixed_modes import MixedDegree
from trainer.arranging.motion import IntervalRun, IntervalSummary, Motion
from trainer.arranging.place_words import bars_words, join_words, number_words, place_words
from trainer.arranging.played_chords import PlayedChord
from trainer.arranging.rhythm_cells import LETTER_WORDS, Accents, Lock, Rhythm
from trainer.arranging.roles import PartRole
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


SECTIONS = {
    "To play": ("range", "figures"),
    "Who plays what": ("roles", "same pitches", "intervals", "motion", "crossing", "clashes"),
    "Harmony": ("mode", "chords", "dark", "leaning"),
    "Rhythm": ("rhythm", "letters", "accents", "lock", "kick"),
}
"""The page's headings in order, and what is told under each."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One statement."""

    about: str
    """What it tells of: a word of `SECTIONS`."""
    parts: tuple[str, ...]
    """The parts it tells of; empty for the whole riff."""
    text: str

    @property
    def section(self) -> str:
        """The heading it stands under."""
        return next(heading for heading, abouts in SECTIONS.items() if self.about in abouts)


def sentences(found: Explanation, riff: Riff) -> tuple[Sentence, ...]:
    """Everything that is worth saying about a riff, in the order of `SECTIONS`; nothing is said twice.

    Args:
        found: the riff's facts.
        riff: the riff itself, for its meters.
    """
    told = [*_whole(found, riff)]
    for part in found.parts:
        told += _part(part, found, riff)
    told += _rhythms(found)
    guitars = [part.name for part in found.parts if not part.bass]
    for pair in found.pairs:
        if not pair.with_bass or guitars[:1] in ([pair.one], [pair.other]):
            told += _pair(pair, riff, _said_by_roles(pair, found))
    order = [about for abouts in SECTIONS.values() for about in abouts]
    return tuple(sorted(told, key=lambda one: order.index(one.about)))


def _whole(found: Explanation, riff: Riff) -> Iterator[Sentence]:
    if len(found.parts) > 1:
        for first, last, roles in found.roles.runs:
            where = bars_words(tuple(range(first, last + 1)))
            told = [f"{part} {role_words(role)}" for part, role in zip(found.roles.parts, roles, strict=True)]
            yield Sentence("roles", (), f"{where[0].upper()}{where[1:]}: {', '.join(told)}.")
        for one in found.roles.handovers:
            yield Sentence("roles", (), f"{one.giver} hands the tune to {one.taker} in bar {one.bar}.")
    if found.modes:
        for text in mode_sentences(found.modes, found.key, "The riff", found.mixed):
            yield Sentence("mode", (), text)
    for mixed in found.mixed:
        yield Sentence("mode", (), mixed_sentence(mixed, found.key, "The riff"))
    for text in chord_sentences(found, riff):
        yield Sentence("chords", (), text)
    if found.dark and found.modes and found.modes.kind == "mode":
        names = join_words([f"{name} ({degree})" for name, degree in found.dark])
        yield Sentence("dark", (), f"It sounds dark because of {names}.")


def role_words(role: PartRole) -> str:
    """What a part does, after its name: "has the tune", "plays thirds below guitar 1"."""
    side = "above" if role.above else "below"
    if role.kind == "harmony":
        return f"plays {_plural(role.number)} {side} {role.of}"
    return {
        "tune": "has the tune",
        "unison": f"plays with {role.of}",
        "octave": f"plays an octave {side} {role.of}",
        "pedal": "holds a pedal note",
        "rhythm": "plays the rhythm",
        "rest": "rests",
    }[role.kind]


def chord_sentences(found: Explanation, riff: Riff) -> Iterator[str]:
    """The chords bar by bar, their degrees, and what is not sure about them."""
    bars = len(riff.meters)
    rows: list[list[PlayedChord]] = [[] for _ in range(bars)]
    starts = riff.bar_starts
    for chord in found.chords:
        at = starts[chord.bar - 1] + chord.offset
        for bar in range(chord.bar - 1, bars):
            if starts[bar] < at + chord.length:
                rows[bar].append(chord)
    if found.chords:
        what = "Power chords" if all(chord.quality == "5" for chord in found.chords) else "Chords"
        row = " | ".join(" ".join(chord.name for chord in bar) or "-" for bar in rows)
        degrees = " ".join(dict.fromkeys(chord.numeral for chord in found.chords))
        source = "as written" if found.chords[0].source == "written" else "as played"
        yield f"{what}, {source}: {row}."
        yield f"Their degrees in {found.key}: {degrees}."
    for chord in found.chords:
        doubts = [f"no {name} is played" for name in chord.missing]
        doubts += [f"{join_words([str(name) for name in chord.outside])} outside it"] if chord.outside else []
        if doubts:
            yield f"Not sure of {chord.name} in bar {chord.bar}: {join_words(doubts)}."
    for bar, _, name in found.unknown_chords:
        yield f'The chord name "{name}" in bar {bar} is not one that is known here.'


def _part(part: PartFacts, found: Explanation, riff: Riff) -> Iterator[Sentence]:
    name = (part.name,)
    if part.compass:
        (low, high), (thin, thick) = part.compass.frets, part.compass.strings
        strings = f"string {thin}" if thin == thick else f"strings {thin} to {thick}"
        frets = "open strings only" if not high else f"fret {low}" if low == high else f"frets {low} to {high}"
        text = f"{part.name} covers {part.compass.lowest} to {part.compass.highest}, on {strings}, {frets}."
        yield Sentence("range", name, text)
    if part.accents.count:
        yield Sentence("accents", name, accent_sentence(part.accents, part.name))
    if part.modes and _says_more(part.modes, found.modes, len(found.parts)):
        for text in mode_sentences(part.modes, found.key, part.name, part.mixed):
            yield Sentence("mode", name, text)
    if part.mixed != found.mixed:
        for mixed in part.mixed:
            yield Sentence("mode", name, mixed_sentence(mixed, found.key, part.name))
    for phrase in part.phrases:
        best = phrase.best
        whole = part.modes.best if part.modes else found.key
        if phrase.kind == "mode" and any(one.rival == whole and one.names for one in phrase.deciding):
            where = bars_words(tuple(range(phrase.first_bar, phrase.last_bar + 1)))
            yield Sentence("mode", name, f"The phrase of {part.name} in {where} by itself fits {best}.")
    leaning = leaning_sentence(part, riff)
    if leaning:
        yield Sentence("leaning", name, leaning)


def _says_more(part: ModeFacts, riff: ModeFacts | None, parts: int) -> bool:
    """Whether a part's own mode is news beside the riff's: another one, that the riff's notes do not leave open."""
    if riff is None or parts == 1 or part.kind == "few":
        return False
    return (part.kind, part.best) != (riff.kind, riff.best) and riff.best not in part.ties


def figure_sentence(found: FigureCatalogue, who: str) -> str:
    """What returns in a part, and what to learn first; empty where nothing does."""
    played = [place for place in found.places if place.letter]
    if not found.figures or len(found.figures) == len(played):
        return ""
    hows = {place.how for place in played}
    notes = [
        word
        for how, word in ((Return.TRANSPOSED, "t is transposed"), (Return.RHYTHM, "r has the rhythm only"))
        if how in hows
    ]
    letters = "; ".join([" ".join(str(place) for place in found.places), *notes])
    count = f"{number_words(len(found.figures))} figure{'s' if len(found.figures) > 1 else ''}"
    text = f"{who}: {number_words(len(played))} bars are {count} ({letters})."
    first = [figure.letter for figure in found.figures if figure.uses > 1][:SHOWN]
    return f"{text} Learn {join_words(first)} first." if len(found.figures) > 1 else text


def leaning_sentence(part: PartFacts, riff: Riff) -> str:
    """Where a melody leans on a tension, and where each resolves; empty where it does not."""
    tense = [note for note in part.leaning if note.tension]
    if not tense:
        return ""
    told = []
    for note in tense[:SHOWN]:
        end = f"resolves to {note.resolves}" if note.resolves else "does not resolve"
        where = place_words(note.bar, note.offset, riff.meters[note.bar - 1])
        told.append(f"{note.pitch} is {note.degree} over {note.bass} in {where} and {end}")
    more = len(tense) - SHOWN
    rest = f"; {number_words(more)} more" if more > 0 else ""
    return f"Where {part.name} leans: {'; '.join(told)}{rest}."


def _rhythms(found: Explanation) -> Iterator[Sentence]:
    """Figures and rhythm of the parts; parts that have the same ones are told together."""
    playing = [part for part in found.parts if part.rhythm.shares]
    for names, parts in _alike(playing, lambda part: " ".join(map(str, part.figures.places))):
        text = figure_sentence(parts[0].figures, join_words(list(names)))
        if text:
            yield Sentence("figures", names, text)
    for names, parts in _alike(playing, lambda part: _shares(part.rhythm)):
        yield Sentence("rhythm", names, f"{join_words(list(names))} {_is(names)} {_shares(parts[0].rhythm)}.")
    for names, parts in _alike(playing, lambda part: " ".join(part.letters)):
        letters = parts[0].letters
        used = [f"{letter} {LETTER_WORDS[letter]}" for letter in LETTER_WORDS if any(letter in bar for bar in letters)]
        text = f"{join_words(list(names))}, beat by beat: {' '.join(letters)} ({', '.join(used)})."
        yield Sentence("letters", names, text)
    first = next((part for part in found.parts if not part.bass and part.kick is not None), None)
    if first is not None and first.kick is not None and first.kick.together + first.kick.only_one:
        yield Sentence("kick", (first.name,), kick_sentence(first.kick, first.name))


def _alike(
    parts: Sequence[PartFacts], what: Callable[[PartFacts], str]
) -> Iterator[tuple[tuple[str, ...], list[PartFacts]]]:
    """Parts that are alike in something, with their names, in the order of the first of each."""
    groups: dict[str, list[PartFacts]] = {}
    for part in parts:
        groups.setdefault(what(part), []).append(part)
    for group in groups.values():
        yield tuple(part.name for part in group), group


def _is(names: Sequence[str]) -> str:
    return "is" if len(names) == 1 else "are"


def _shares(found: Rhythm) -> str:
    if len(found.shares) == 1:
        return f"{found.main} throughout"
    return join_words([f"{round(100 * share)} % {cell}" for cell, share in found.shares])


KICK_FOLLOWS = 0.8
"""From this share of a part's notes on the kick is said to follow it. House rule."""


def kick_sentence(found: Lock, who: str) -> str:
    """Whether the kick follows a part."""
    notes = found.together + found.only_one
    if found.together == notes:
        return f"The kick follows {who} note for note."
    if found.together >= KICK_FOLLOWS * notes:
        return f"The kick follows {who}, but for {number_words(found.only_one)} of its {notes} notes."
    return f"The kick goes its own way: it meets {number_words(found.together)} of {notes} notes of {who}."


def mode_sentences(modes: ModeFacts, declared: Key, who: str, mixed: Sequence[MixedDegree] = ()) -> Iterator[str]:
    """Which mode some notes fit, what decides it, what lies outside, and what they cannot tell.

    Notes outside that `mixed` explains are left to its own sentence.
    """
    if modes.kind == "few":
        yield f"{who} has too few different notes to tell a mode."
        return
    if modes.kind == "chromatic":
        yield f"{who} is chromatic: no one mode holds it."
        return
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
    ties = modes.ties
    if ties:
        names = join_words([str(name) for name in best.absent])
        verb = "is" if len(best.absent) == 1 else "are"
        yield f"{names} {verb} never heard, so {join_words([str(key) for key in ties])} would do as well."
    if best.key.mode != plain_key(declared).mode:
        yield f"The file says {declared}."
    if modes.other_home is not None:
        yield f"Not sure about the home note: by themselves the notes point to {modes.other_home}."


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


def _said_by_roles(pair: PairFacts, found: Explanation) -> bool:
    """Whether the roles tell the interval of two parts already: the same one from first to last."""
    one, other = found.roles.of(pair.one), found.roles.of(pair.other)
    both = [second for first, second in zip(one, other, strict=True) if "rest" not in (first.kind, second.kind)]
    related = bool(both) and all(role.of == pair.one and role.kind != "unison" for role in both)
    return related and pair.summary is not None and not pair.summary.exceptions


def _pair(pair: PairFacts, riff: Riff, told_already: bool) -> Iterator[Sentence]:
    names = (pair.one, pair.other)
    if pair.same:
        yield Sentence("same pitches", names, same_sentence(pair.same, pair.one, pair.other))
    elif pair.summary and (not pair.with_bass or pair.summary.share >= MIXED_SHARE):
        if not told_already:
            yield Sentence("intervals", names, f"{pair.other} moves in {interval_words(pair.summary, pair, riff)}.")
        sizes = size_sentence(pair)
        if sizes:
            yield Sentence("intervals", names, sizes)
        if pair.motion and not pair.with_bass:
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
        yield Sentence("clashes", names, f"{pair.one} and {pair.other} clash: {places}.")
    total = pair.lock.together + pair.lock.only_one + pair.lock.only_other
    if total:
        yield Sentence("lock", names, lock_sentence(pair))


SIZES = {"M": "major", "m": "minor"}
"""What the two sizes of a third or sixth are called."""


def size_sentence(pair: PairFacts) -> str:
    """Where the thirds or sixths of two parts change their size; empty where they do not."""
    if pair.summary is None or pair.summary.main not in (3, 6):
        return ""
    bars: dict[str, list[int]] = {}
    for shared in pair.line:
        quality = shared.upward.quality
        if shared.number == pair.summary.main and quality in SIZES:
            bars.setdefault(quality, []).append(shared.bar)
    if len(bars) < len(SIZES):
        return ""
    (more, _), (less, few) = sorted(bars.items(), key=lambda item: -len(item[1]))
    what = _plural(pair.summary.main)
    where = bars_words(tuple(dict.fromkeys(few)))
    return f"The {what} are {SIZES[more]}, but {SIZES[less]} {_times(len(few))}, in {where}."


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
