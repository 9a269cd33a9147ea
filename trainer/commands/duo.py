"""`twinspur duo`: two guitarists compared: who leads, how tightly, in which bars, and what became of the interval."""

import argparse
from math import isinf
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from trainer.commands.line import DONE, FILE_WRONG, CallError
from trainer.commands.terminal import complain, say, say_json, table

if TYPE_CHECKING:
    from trainer.commands.subject import Subject
    from trainer.listening.duo import Duo
    from trainer.listening.estimate import Estimate
    from trainer.listening.judging import Judgement
    from trainer.listening.midi_take import MidiTake
    from trainer.listening.sound import Sound


class Guitarist(NamedTuple):
    """One guitarist's take and what it is laid over."""

    name: str
    take: "Sound | MidiTake"
    subject: "Subject"
    part: str
    start_s: float | None = None


def options(parser: argparse.ArgumentParser) -> None:
    """The two takes, what they are of, and whether they were recorded together."""
    from trainer.commands.subject import subject_options

    parser.add_argument(
        "takes", metavar="TAKE", nargs="+", help="two takes, or one stereo file with a guitarist on each side: "
        "audio or MIDI files, or kept takes by name or number"
    )  # fmt: skip
    parser.add_argument("--exercise", metavar="EXERCISE", help="what they play; a kept take knows it")
    subject_options(parser, exercise=False)
    parser.add_argument("--passes", metavar="N", help="how often it was played without a break (default: once)")
    parser.add_argument(
        "--together", action="store_true", help="the two files begin at one moment, as the tracks of one recording do"
    )
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Compare two takes."""
    from trainer.commands.judging import judge
    from trainer.commands.own_machine import machine
    from trainer.listening.duo import compare

    if len(arguments.takes) > 2:
        raise CallError("Two takes are compared, or the two sides of one stereo file.")
    bands = machine().bands
    first, second = _players(arguments)
    told = [judge(who.take, who.subject, who.part, bands, who.start_s)[0] for who in (first, second)]
    lost = [who for who, judgement in zip((first, second), told, strict=True) if not judgement.verdict.counts]
    for who, judgement in zip((first, second), told, strict=True):
        if who in lost:
            complain(f"{who.name}, {who.part}: {judgement.verdict.reasons[0].sentence}")
    if lost:
        return FILE_WRONG
    shared = arguments.together or len(arguments.takes) == 1
    duo = _compared(told, shared, compare)
    if duo is None:
        complain("The two takes have fewer than four strokes in common: there is nothing to compare.")
        return FILE_WRONG
    if arguments.json:
        say_json(_plain(duo, first, second))
    else:
        _tell(duo, first, second)
    return DONE


def _compared(told: "list[Judgement]", shared: bool, compare: Any) -> "Duo | None":
    performances = [judgement.performance for judgement in told]
    if None in performances:
        return None
    found: Duo | None = compare(*performances, shared_clock=shared)
    return found


def _players(arguments: argparse.Namespace) -> tuple[Guitarist, Guitarist]:
    """The two takes. Raises CallError and ProblemsError."""
    from trainer.commands.judging import takes_of
    from trainer.commands.kept import find_take, is_kept, subject_of
    from trainer.commands.own_machine import machine
    from trainer.commands.subject import SubjectRequest, subject
    from trainer.listening.take_file import read_take

    takes, request = machine().takes(), SubjectRequest.of(arguments)
    players: list[Guitarist] = []
    for word in arguments.takes:
        number = len(players)
        if is_kept(word):
            kept = find_take(takes, word)
            asked = subject_of(kept, request)
            part = asked.part(number if arguments.part else 0)
            players.append(Guitarist(kept.name, read_take(kept.sound)[0], asked, part, kept.info.known_s))
            continue
        if not arguments.exercise:
            raise CallError(f"Say which exercise {word} is of with --exercise.")
        target = subject(request)
        found = takes_of(Path(word))
        if len(arguments.takes) == 1 and len(found) == 1:
            raise CallError(f"{word} holds one guitarist: give a second take, or a stereo file with one on each side.")
        chosen = found if len(arguments.takes) == 1 else found[:1]
        for side, take in enumerate(chosen):
            players.append(Guitarist(take.name, take.take, target, target.part(number + side)))
    if len(players) != 2:
        raise CallError("Give a second take to compare with.")
    return players[0], players[1]


def _tell(duo: "Duo", first: Guitarist, second: Guitarist) -> None:
    say(f"First: {first.name}, {first.part}. Second: {second.name}, {second.part}.")
    for sentence in duo.sentences:
        say(f"  {sentence}")
    lead = f"{duo.lead.value:+.1f} ms ({duo.lead.low:+.1f} to {duo.lead.high:+.1f}); + is the first guitar earlier"
    rows = [("mean lead", lead if duo.lead_known else "not known")]
    rows.append(("spread", f"{duo.spread_ms:.1f} ms over {len(duo.pairs)} strokes"))
    gains = [f"{who} {_gain(gain)}" for who, gain in zip(("first", "second"), duo.correction, strict=True)]
    rows.append(("correction", f"{', '.join(gains)}; share of the last difference made good"))
    for line in table(rows):
        say(f"  {line}")
    bars = [("bar", "lead", "spread", "who leads")]
    bars += [
        (
            str(bar.bar),
            f"{bar.lead_ms:+.1f} ms",
            f"{bar.spread_ms:.1f} ms",
            bar.leader if duo.lead_known else "not known",
        )
        for bar in duo.bars
    ]
    for line in table(bars, right=frozenset({0, 1, 2})):
        say(f"  {line}")


def _gain(gain: "Estimate") -> str:
    """A share of the last difference with its interval."""
    if isinf(gain.high):
        return "not known"
    return f"{gain.value:.0%} ({max(0.0, gain.low):.0%} to {min(1.0, max(0.0, gain.high)):.0%})"


def _plain(duo: "Duo", first: Guitarist, second: Guitarist) -> dict[str, Any]:
    from trainer.listening.duo import interval_name
    from trainer.listening.judgement_json import estimate_as_json

    tightest, loosest = duo.tightest, duo.loosest
    return {
        "first": {"take": first.name, "part": first.part},
        "second": {"take": second.name, "part": second.part},
        "lead_known": duo.lead_known,
        "lead_ms": {name: round(getattr(duo.lead, name), 3) for name in ("value", "low", "high")},
        "spread_ms": round(duo.spread_ms, 3),
        "strokes": len(duo.pairs),
        "correction": [None if isinf(gain.high) else estimate_as_json(gain) for gain in duo.correction],
        "tightest_bar": tightest.bar if tightest else None,
        "loosest_bar": loosest.bar if loosest else None,
        "bars": [
            {
                "bar": bar.bar,
                "lead_ms": round(bar.lead_ms, 3),
                "spread_ms": round(bar.spread_ms, 3),
                "leader": bar.leader if duo.lead_known else None,
            }
            for bar in duo.bars
        ],
        "intervals": [
            {
                "bar": wrong.bar, "count": wrong.count, "written": interval_name(wrong.written),
                "played": interval_name(wrong.played),
            }
            for wrong in duo.intervals
        ],
        "sentences": list(duo.sentences),
    }  # fmt: skip
