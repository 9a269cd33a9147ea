"""What the ladder says, in words: plain sentences by what it decided."""

from trainer.practice.ladder import Instead, Ladder, Word

SENTENCES: dict[Word, str] = {
    Word.STAY: "Once more at {tempo} bpm.",
    Word.UP: "Clean. Next: {tempo} bpm.",
    Word.DOWN: "Missed. Next: {tempo} bpm.",
    Word.TARGET: "The target is clean. {tempo} bpm makes it yours.",
    Word.OWNED: "{target} bpm is yours: the rung over it is clean too.",
    Word.ENOUGH: "{tempo} bpm is enough of a rise for one day. Keep it clean, and climb on tomorrow.",
    Word.NOT_NOW: "Not now. {instead}",
}
INSTEAD: dict[Instead, str] = {
    Instead.SLOWER: "Take it slower, at a tempo that feels too easy.",
    Instead.FEWER_BARS: "Take fewer bars: the one that stumbles and the note after it.",
    Instead.OTHER_PART: "Take the other guitar's part for a while.",
    Instead.REST: "Rest your hands, and come back to this another time.",
}
BURST = "{bars} bar{s} at {tempo} bpm, then rest."


def sentence(ladder: Ladder) -> str:
    """What to tell the player after the last pass."""
    rung = ladder.rung
    instead = INSTEAD[ladder.instead] if ladder.instead else ""
    target = round(ladder.rules.target_bpm)
    if rung.bars is not None and ladder.word in {Word.STAY, Word.UP, Word.DOWN}:
        return BURST.format(bars=rung.bars, s="" if rung.bars == 1 else "s", tempo=rung.tempo_bpm)
    return SENTENCES[ladder.word].format(tempo=rung.tempo_bpm, target=target, instead=instead).strip()
