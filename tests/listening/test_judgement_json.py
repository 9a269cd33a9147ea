"""A judgement as plain values, and takes of either kind from files."""

import json
from datetime import datetime
from fractions import Fraction
from pathlib import Path

from tests.listening.plucked import line, player, record
from trainer.listening.judgement_json import judgement_as_json
from trainer.listening.judging import judge
from trainer.listening.midi_take import MidiNote, MidiTake
from trainer.listening.take_file import read_take
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes
from trainer.practice.verdict import Outcome, Verdict
from trainer.values import read

WRITTEN = line((40, 43, 45, 47, 50, 52, 50, 47) * 2, 120)


def test_a_judgement_survives_json() -> None:
    notes = player(WRITTEN)
    del notes[6]
    judgement = judge(record(notes, 6.5), WRITTEN)
    plain = json.loads(json.dumps(judgement_as_json(judgement)))
    assert read(Verdict, plain["verdict"]) == judgement.verdict
    assert [stroke["count"] for stroke in plain["strokes"] if stroke["missed"]] == ["4"]
    assert plain["timing"]["bias_ms"] is None
    assert plain["next"]["tempo_bpm"] < 120


def test_a_midi_take_is_judged_from_a_file(tmp_path: Path) -> None:
    notes = tuple(MidiNote(Fraction(1, 2) + stroke.at, stroke.pitches[0]) for stroke in WRITTEN.strokes)
    kept = Takes(tmp_path).keep(MidiTake(notes), None, TakeInfo(), datetime.now().astimezone())
    (take,) = read_take(kept.sound)
    judgement = judge(take, WRITTEN)
    assert judgement.verdict.outcome is Outcome.CLEAN
    assert judgement.timing is not None
    assert judgement.timing.drift.value == 0
    wrong = judge(MidiTake((*notes[:5], MidiNote(notes[5].at, 53), *notes[6:])), WRITTEN)
    assert wrong.verdict.reasons[0].sentence == "Bar 1, count 3 &: the up stroke is one fret too high."
    assert judge(MidiTake(()), WRITTEN).verdict.outcome is Outcome.UNJUDGED
