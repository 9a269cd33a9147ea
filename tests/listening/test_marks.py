"""The strokes that were not as written are kept with a take, in a few words each."""

from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from trainer.listening import marks
from trainer.listening.bands import Bands
from trainer.listening.judging import judge_midi, unjudged
from trainer.listening.marks import kept_marks
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes
from trainer.listening.written import WrittenPart, WrittenStroke

PITCHES = (40, 43, 47, 45)
WRITTEN = WrittenPart(
    tuple(
        WrittenStroke(Fraction(k, 4), Fraction(1, 4), (PITCHES[k % 4],), bar=k // 8 + 1, count=str(k % 8 + 1))
        for k in range(16)
    ),
    Fraction(4),
)


def played(late_ms: dict[int, int], lost: int = -1, wrong: int = -1) -> MidiTake:
    return MidiTake(
        tuple(
            MidiNote(stroke.at + Fraction(late_ms.get(k, 0), 1000) + 1, stroke.pitches[0] + 2 * (k == wrong))
            for k, stroke in enumerate(WRITTEN.strokes)
            if k != lost
        )
    )


def test_late_early_lost_and_wrong_strokes_are_marked_and_nothing_else() -> None:
    judgement = judge_midi(played({3: 32, 9: -35}, lost=12, wrong=14), WRITTEN)
    assert kept_marks(judgement, Bands()) == (
        "bar 1, count 4: 32 ms late",
        "bar 2, count 2: 35 ms early",
        "bar 2, count 5: not heard",
        "bar 2, count 7: another pitch",
    )
    assert kept_marks(judge_midi(played({}), WRITTEN), Bands()) == ()


def test_a_take_that_could_not_be_followed_has_no_marks_and_no_take_has_too_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert kept_marks(unjudged("The take is quiet."), Bands()) == ()
    judgement = judge_midi(played({3: 32}, lost=12), WRITTEN)
    assert len(kept_marks(judgement, Bands())) == 2
    monkeypatch.setattr(marks, "MOST_KEPT", 1)
    assert len(kept_marks(judgement, Bands())) == 1


def test_they_are_kept_with_the_take(tmp_path: Path) -> None:
    takes, take = Takes(tmp_path), played({3: 32})
    at = datetime(2031, 5, 4, tzinfo=UTC)
    kept = takes.keep(take, judge_midi(take, WRITTEN), TakeInfo(riff="x"), at)
    assert kept.info.marks == ("bar 1, count 4: 32 ms late",)
    assert takes.keep(take, None, TakeInfo(), at).info.marks is None
