"""How often the program answers fifty invented passages as a teacher would; the answers were written by hand, first.

Each row counts one kind of answer (`tests/arranging/passages.py`): modes and fingerings by passage, chords one by one,
roles and figures by bar, strokes one by one. The last row counts the passages without a chord in which one is told.
Run: `python -m tests.benchmarks.teacher [--wrong]`; --wrong prints every answer that differs.
"""

import sys

from tests.arranging.passages import LINES, PASSAGES
from tests.arranging.passages_right import SCORES, Score, chords


def main() -> None:
    """Count and print."""
    print(f"{'answers':<18}{'asked':>7}{'right':>7}{'share':>8}")
    for name, score in SCORES.items():
        total = Score()
        for passage in PASSAGES:
            total = total + score(passage)
        print(f"{name:<18}{total.asked:>7}{total.right:>7}{total.right / total.asked:>8.1%}")
        if "--wrong" in sys.argv:
            for line in total.wrong:
                print(f"    {line}")
    free = [passage for passage in LINES if passage.chords]
    made_up = sum(any(chords(passage)) for passage in free)
    print(f"{'chords made up':<18}{len(free):>7}{made_up:>7}")


if __name__ == "__main__":
    main()
