"""Today's plan as rows: what to play for how long, what is done, and how much is left."""

from collections.abc import Mapping, Sequence

from trainer.practice.plan import PlanBlock, Purpose
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder
from trainer.screens.drawing.pen import Pen
from trainer.screens.drawing.tables import Placed, TableColumn, put_cell

COLUMNS = (
    TableColumn("minutes", "min", 4, right=True),
    TableColumn("kind", "for", 8),
    TableColumn("exercise", "exercise", 0),
    TableColumn("where", "riff", 18, least=60),
    TableColumn("part", "part", 9, least=76),
    TableColumn("tempo", "bpm", 4, right=True),
    TableColumn("state", "", 5),
)


def block_row(
    block: PlanBlock, title: str, state: str, placed: Sequence[Placed], *, width: int, pen: Pen, chosen: bool
) -> CellRow:
    """Draw one block of the plan.

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
        bar = f", {block.bar_words}" if block.bar_words else ""
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


def time_line(blocks: Sequence[PlanBlock], done: Sequence[bool], chosen: int, width: int, pen: Pen) -> CellRow:
    """Draw the plan as a line of time: done blocks are filled, breaks are gaps, the chosen block is marked."""
    builder = RowBuilder(width)
    total = sum(block.minutes for block in blocks) or 1
    room, past = width - 2, 0
    for number, block in enumerate(blocks):
        begin, end = 1 + past * room // total, 1 + (past + block.minutes) * room // total
        past += block.minutes
        if block.kind is Purpose.BREAK:
            continue
        filled = number < len(done) and done[number]
        kind = ink.STRONG if number == chosen else ink.MARK if filled else ink.QUIET
        builder.fill(begin, max(begin + 1, end - 1), pen.full if filled else pen.empty, kind)
    return builder.row()


def summary(blocks: Sequence[PlanBlock], done: Sequence[bool]) -> str:
    """Say how much is planned, done and left."""
    total = sum(block.minutes for block in blocks)
    over = sum(block.minutes for block, is_done in zip(blocks, done, strict=True) if is_done)
    rest = sum(block.minutes for block in blocks if block.kind is Purpose.BREAK)
    told = f"{total} minutes" + (f", {rest} of them rest" if rest else "")
    if over >= total:
        return f"{told}. All done: that is enough for today."
    return f"{told}. Done: {over}, to go: {total - over}."


def about(block: PlanBlock, titles: Mapping[str, str]) -> str:
    """Say what a block is for."""
    if block.line is None:
        return "A break: put the guitar down, stand up, let your hands hang."
    title = titles.get(block.line.exercise, block.line.exercise)
    if block.asked is not None:
        asked = block.asked
        when = f" by {asked.by.isoformat()}{', which is over' if asked.late else ''}" if asked.by else ""
        note = f' "{" ".join(asked.note.split())}"' if asked.note.strip() else ""
        place = ", ".join(word for word in (block.line.riff or "the whole form", block.bar_words) if word)
        return f"{asked.teacher or 'Your teacher'} asks for {asked.tempo_bpm:g} bpm{when}: {place}, from {title}.{note}"
    said = {
        Purpose.WARM_UP: f"Warm up slowly with {title}, well under what you can play.",
        Purpose.HARD_BAR: f"Bar {block.bar} by itself, before its riff.",
        Purpose.RIFF: f"{block.line.riff or 'The whole form'} from {title}, for {block.minutes} minutes; then another.",
        Purpose.ENDING: f"End with {title}, at a tempo you own.",
    }
    return said[block.kind]
