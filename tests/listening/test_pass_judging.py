"""A pass cut out of a longer recording: its neighbours do not count, and what is no music is told at once."""

import numpy as np
import pytest

from tests.listening.plucked import gallop, player, record
from trainer.listening.bands import Bands
from trainer.listening.judging import judge_cut_pass
from trainer.listening.live_judge import LocalJudge, Question
from trainer.listening.sound import Sound
from trainer.listening.soundness import NOTHING
from trainer.practice.verdict import Outcome

RATE, BEGINS_S = 48_000, 0.15
WRITTEN = gallop(170)
SECONDS = BEGINS_S + float(WRITTEN.length) + 0.25


def cut(start_s: float, first: int = 0) -> Sound:
    """The take of a pass whose strokes, from one on, were played from a second on."""
    notes = [note for note in player(WRITTEN, start_s, 3.0)[first:] if note.at_s < SECONDS]
    sound = record(notes, SECONDS, rate=RATE)
    begins = max(0, round((notes[0].at_s - 0.02) * RATE))
    return Sound(np.concatenate([np.zeros(begins, np.float32), sound.samples[begins:]]), RATE)


def test_a_pass_in_which_nothing_was_played_is_not_judged_by_the_beginning_of_the_next_one() -> None:
    judgement = judge_cut_pass(cut(BEGINS_S + float(WRITTEN.length)), BEGINS_S, WRITTEN)
    assert judgement.verdict.outcome is Outcome.UNJUDGED
    assert [each.sentence for each in judgement.verdict.reasons] == [NOTHING]


def test_a_pass_that_was_joined_in_its_last_bar_is_judged_for_that() -> None:
    judgement = judge_cut_pass(cut(BEGINS_S, len(WRITTEN.strokes) - 12), BEGINS_S, WRITTEN)
    assert judgement.verdict.outcome is Outcome.MISSED
    assert "were not heard" in judgement.verdict.reasons[0].sentence


@pytest.mark.parametrize(("of_notes", "times"), [(True, 2), (False, 1)])
def test_a_pass_that_cannot_be_followed_is_looked_for_elsewhere_if_it_holds_notes(
    of_notes: bool, times: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[object] = []

    def counted(*given: object, **named: object) -> object:
        asked.append(named["guesses"])
        return judge_cut_pass(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr("trainer.listening.live_judge.judge_cut_pass", counted)
    noise = np.random.default_rng(4).normal(0, 0.05, round(SECONDS * RATE)).astype(np.float32)
    judges = LocalJudge()
    judges.begin(RATE)
    judges.add(cut(BEGINS_S + 0.12).samples if of_notes else noise)
    found = judges.judge(Question(WRITTEN, BEGINS_S - 0.03, Bands(), guesses=(-0.05,)))
    assert asked == [(-0.05,), None][:times]
    assert found.verdict.counts is of_notes
