"""How often the mode of a generated passage is found, by its length and its share of noise notes.

Each cell counts passages in ten seven-note modes on random tonics (`tests/arranging/made_passages.py`). The peers, in
the same run, correlate lengths by pitch class with key profiles: those of Krumhansl & Kessler for major and minor, and
one profile for each mode made from them. Where the notes do not tell modes apart, one of the tied modes is right at
best; the column "or tied" counts a passage as found when its mode is the first or tied with it. Pentatonic answers are
passed over, since every passage has seven notes to draw from.
Run: `python -m tests.benchmarks.mode_finding [PASSAGES PER MODE]`.
"""

import sys
from random import Random

from tests.arranging.made_passages import EVERY_MODE, MAJOR_MINOR, MODES_MADE, TONICS, by_profiles, passage
from trainer.arranging.mode_finding import deciding, find_modes
from trainer.music.key import Key

LENGTHS = (8, 16, 32, 64)
NOISE = (0.0, 0.05, 0.1, 0.2)
PASSAGES = 60


def main() -> None:
    """Measure and print."""
    each = int(sys.argv[1]) if len(sys.argv) > 1 else PASSAGES
    random = Random(1982)
    total = each * len(MODES_MADE)
    print(f"{total * len(LENGTHS) * len(NOISE)} passages, {total} in each row; shares found")
    print(f"{'':<16}{'tonic declared':^46}{'tonic unknown':^38}")
    columns = ("mode", "or tied", "profiles", "maj/min", "key", "profiles", "maj/min")
    print(f"{'notes':>6}{'noise':>8}  " + "".join(f"{column:>12}" for column in columns))
    for noise in NOISE:
        for length in LENGTHS:
            found = [0] * len(columns)
            for mode in MODES_MADE:
                for _ in range(each):
                    key = Key(random.choice(TONICS), mode)
                    notes = passage(random, key, length, noise)
                    fits = [fit for fit in find_modes(notes, tonic=key.tonic, count=12) if fit.key.mode in MODES_MADE]
                    tied = {one.rival.mode for one in deciding(fits, notes) if one.tie}
                    alone = next(fit.key for fit in find_modes(notes, count=9) if fit.key.mode in MODES_MADE)
                    truth = (key.tonic.semitone, mode)
                    hits = (
                        fits[0].key == key,
                        fits[0].key == key or mode in tied,
                        by_profiles(notes, EVERY_MODE, key.tonic) == truth,
                        by_profiles(notes, MAJOR_MINOR, key.tonic) == truth,
                        (alone.tonic.semitone, alone.mode) == truth,
                        by_profiles(notes, EVERY_MODE, None) == truth,
                        by_profiles(notes, MAJOR_MINOR, None) == truth,
                    )
                    found = [count + hit for count, hit in zip(found, hits, strict=True)]
            print(f"{length:>6}{noise:>8.0%}  " + "".join(f"{count / total:>12.0%}" for count in found))


if __name__ == "__main__":
    main()
