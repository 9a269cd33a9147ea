"""Material for benchmarks: exercises of any length, made the same way every time."""

from random import Random

BAR = "1 e & a 2 e & a 3 e & a 4 e & a"


def long_exercise(bars: int, seed: int = 1) -> str:
    """An exercise file of two guitars, bass and drums over that many bars, no two systems alike."""
    chance = Random(seed)
    text = [
        '+++\ntitle = "The long causeway"\nkey = "E aeolian"\ntempo = { start = 92, target = 168 }\n+++\n',
        "## All of it\n",
    ]
    for part, strings in (("guitar 1", 6), ("guitar 2", 6), ("bass", 4)):
        text.append(f"```tab {part}")
        for _ in range(bars // 4):
            text += [*_system(chance, strings), ""]
        text.append("```\n")
    text.append("```tab drums")
    for _ in range(bars // 4):
        rows = {piece: [_row(chance, "xXo", 0.4) for _ in range(4)] for piece in ("hat", "snare", "kick")}
        text += [_line("count", [BAR] * 4), *(_line(piece, cells) for piece, cells in rows.items()), ""]
    return "\n".join([*text, "```\n"])


def _system(chance: Random, strings: int) -> list[str]:
    rows = {
        str(string): [_row(chance, "0123456789", 0.35) for _ in range(4)] for string in range(strings - 2, strings + 1)
    }
    mute = [_row(chance, "=", 0.5) for _ in range(4)]
    return [_line("count", [BAR] * 4), *(_line(label, cells) for label, cells in rows.items()), _line("mute", mute)]


def _row(chance: Random, marks: str, share: float) -> str:
    return " ".join(chance.choice(marks) if chance.random() < share else " " for _ in range(16))


def _line(label: str, cells: list[str]) -> str:
    return f"{label:<5} | " + " | ".join(f"{cell:<{len(BAR)}}" for cell in cells) + " |"
