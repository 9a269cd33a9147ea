"""The harmony block: which part a computed line follows, at what interval, and its exceptions."""

from collections.abc import Sequence
from fractions import Fraction

from trainer.music.instrument import MAX_FRETS, Instrument
from trainer.music.interval import Distance
from trainer.music.meter import Meter
from trainer.music.part import HarmonyException, HarmonyPart, PedalNote, parse_distance
from trainer.music.problem import nearest
from trainer.notation.count import offset_of
from trainer.notation.document import Block
from trainer.notation.harmony_options import KEYS as OPTION_KEYS
from trainer.notation.harmony_options import read_options
from trainer.notation.likely import likely_interval
from trainer.notation.report import Report
from trainer.notation.toml_table import Table, read_table

KEYS = ("follows", "interval", "except", "near", *OPTION_KEYS)
EXCEPT_KEYS = ("bar", "count", "interval")
ALLOWED = "such as third above, sixth below, perfect fourth above, octave below, pedal E3"


def read_harmony(
    block: Block, parts: Sequence[str], meters: Sequence[Meter], instrument: Instrument, report: Report
) -> HarmonyPart | None:
    """Read a harmony block; None where it cannot be used.

    Args:
        block: the block.
        parts: the names of the riff's other parts.
        meters: one for each bar of the riff.
        instrument: the neck the harmony is played on.
        report: where problems go.
    """
    table = read_table(block.content, block.line + 1, report)
    table.check_keys(KEYS, "a harmony block")
    follows = " ".join(table.get("follows", str, "").split())
    distance = _distance(table)
    if not follows:
        table.problem("follows", "a harmony that follows no part", hint='Write follows = "guitar 1"')
        return None
    if follows not in parts:
        others = [part for part in parts if part != block.part]
        meant = nearest(follows, others)
        hint = f'Did you mean "{meant}"' if meant else ""
        table.problem("follows", f'part "{follows}" is not in this riff', ", ".join(others) or "none", hint)
        return None
    if distance is None:
        return None
    near = table.number("near", 0, MAX_FRETS, None, whole=True)
    options = read_options(table, [name for name in parts if name != block.part], len(meters))
    return HarmonyPart(
        block.part,
        follows,
        distance,
        _exceptions(table, meters),
        near,
        instrument,
        options.contrary,
        options.within,
        options.frets,
        options.avoid,
        options.leads,
    )


def _distance(table: Table) -> Distance | PedalNote | None:
    if "interval" not in table.values:
        table.problem("interval", "a harmony without an interval", hint='Write interval = "third above"')
        return None
    return table.parse("interval", lambda text: parse_distance(" ".join(text.split())), None, ALLOWED, likely_interval)


def _exceptions(table: Table, meters: Sequence[Meter]) -> tuple[HarmonyException, ...]:
    found = []
    for number, item in enumerate(table.get("except", list, [])):
        if table.report.full:
            break
        if not isinstance(item, dict) or not set(item) <= set(EXCEPT_KEYS) or len(item) != len(EXCEPT_KEYS):
            hint = 'Write except = [{ bar = 2, count = "3 &", interval = "fourth above" }]'
            table.problem("except", "an exception needs bar, count and interval", hint=hint, item=number)
            continue
        bar, count, interval = item["bar"], item["count"], item["interval"]
        if not isinstance(bar, int) or isinstance(bar, bool) or not 1 <= bar <= len(meters):
            table.problem("except", f"an exception in bar {_short(bar)}", f"bars 1 to {len(meters)}", item=number)
            continue
        try:
            offset: Fraction = offset_of(str(count), meters[bar - 1])
        except ValueError:
            allowed = 'a count of that bar, such as "3" or "3 &"'
            table.problem("except", f"an exception on count {_short(count)}", allowed, item=number)
            continue
        try:
            distance = parse_distance(" ".join(str(interval).split()))
        except ValueError:
            meant = likely_interval(str(interval))
            hint = f'Did you mean "{meant}"' if meant else ""
            table.problem("except", f"interval {_short(interval)} is not known", ALLOWED, hint, item=number)
            continue
        found.append(HarmonyException(bar, offset, distance))
    return tuple(found)


def _short(value: object) -> str:
    """A value as TOML has it, cut where it is long."""
    return repr(value)[:60]


def check_circles(harmonies: Sequence[tuple[HarmonyPart, int]], report: Report) -> None:
    """Report harmonies that follow themselves, straight or by way of others; each comes with its block's line."""
    follows = {harmony.name: harmony.follows for harmony, _ in harmonies}
    for harmony, line in harmonies:
        seen, at = {harmony.name}, harmony.follows
        while at in follows and at not in seen:
            seen.add(at)
            at = follows[at]
        if at == harmony.name:
            hint = "Let it follow a part that is written out"
            report.add(line, 0, f"harmony {harmony.name} follows itself", hint=hint)
