"""Today's plan as rows: what to play for how long, what is done, and how much is left."""

from collections.abc import Mapping, Sequence

from trainer.practice.plan import Block, Kind
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import Row, RowBuilder
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.table_row import Column, Placed, put_cell

COLUMNS = (
    Column("minutes", "min", 4, right=True),
    Column("kind", "for", 8),
    Column("exercise", "exercise", 0),
    Column("where", "riff", 18, least=60),
    Column("part", "part", 9, least=76),
    Column("tempo", "bpm", 4, right=True),
    Column("state", "", 5),
)


def block_row(
    block: Block, title: str, state: str, placed: Sequence[Placed], *, width: int, pen: Pen, chosen: bool
) -> Row:
    """One block of the plan.

    Args:
        block: the block.
        title: its exercise's title.
        state: "done", "begun" or nothing.
        placed: where the columns stand.
        width: cells of the row.
        pen: the characters.
        chosen: whether the cursor is on it.
    """
    builder = RowBuilder(width)
    done = state == "done"
    text = ink.QUIET if done else ink.PLAIN
    if chosen:
        builder.put(0, pen.chosen, ink.STRONG)
    cells = {"minutes": (str(block.minutes), text), "kind": (block.kind.value, ink.QUIET if done else ink.LABEL)}
    if block.line is None:
        cells["exercise"] = ("hands off the guitar", ink.QUIET)
    else:
        bar = f", bar {block.bar}" if block.bar else ""
        cells |= {
            "exercise": (title, ink.STRONG if chosen and not done else text),
            "where": (f"{block.line.riff or 'the whole form'}{bar}", text),
            "part": (block.line.part, text),
            "tempo": (str(block.tempo_bpm or ""), text),
        }
    cells["state"] = (state, ink.STRONG if done else ink.MARK)
    for each in placed:
        if each.column.name in cells:
            put_cell(builder, each, *cells[each.column.name])
    return builder.row()


def time_line(blocks: Sequence[Block], done: Sequence[bool], chosen: int, width: int, pen: Pen) -> Row:
    """The plan as one line of time: what is done is filled, breaks are gaps, the chosen block is marked."""
    builder = RowBuilder(width)
    total = sum(block.minutes for block in blocks) or 1
    room, past = width - 2, 0
    for number, block in enumerate(blocks):
        begin, end = 1 + past * room // total, 1 + (past + block.minutes) * room // total
        past += block.minutes
        if block.kind is Kind.BREAK:
            continue
        filled = number < len(done) and done[number]
        kind = ink.STRONG if number == chosen else ink.MARK if filled else ink.QUIET
        builder.fill(begin, max(begin + 1, end - 1), pen.full if filled else pen.empty, kind)
    return builder.row()


def summary(blocks: Sequence[Block], done: Sequence[bool]) -> str:
    """How much is planned, done and left."""
    total = sum(block.minutes for block in blocks)
    over = sum(block.minutes for block, is_done in zip(blocks, done, strict=True) if is_done)
    rest = sum(block.minutes for block in blocks if block.kind is Kind.BREAK)
    told = f"{total} minutes" + (f", {rest} of them rest" if rest else "")
    if over >= total:
        return f"{told}. All done: that is enough for today."
    return f"{told}. Done: {over}, to go: {total - over}."


def about(block: Block, titles: Mapping[str, str]) -> str:
    """What a block is for, in a sentence."""
    if block.line is None:
        return "A break: put the guitar down, stand up, let your hands hang."
    title = titles.get(block.line.exercise, block.line.exercise)
    said = {
        Kind.WARM_UP: f"Warm up slowly with {title}, well under what you can play.",
        Kind.HARD_BAR: f"Bar {block.bar} by itself, before its riff.",
        Kind.RIFF: f"{block.line.riff or 'The whole form'} from {title}, for {block.minutes} minutes; then another.",
        Kind.ENDING: f"End with {title}, at a tempo you own.",
    }
    return said[block.kind]
