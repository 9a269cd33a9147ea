"""Packing: what comes out is what went in, and the part that both sides have is not sent again."""

import io
import pickle

import pytest

from tests.listening.plucked import gallop, player
from trainer.listening.judge_worker import SharedPart, packed, unpacked
from trainer.listening.judging import judge_midi
from trainer.listening.midi_take import MidiNote, MidiTake

PART, OTHER = gallop(170, 12), gallop(120, 4)


def test_a_judgement_comes_back_as_it_was_with_the_strokes_of_the_part_itself() -> None:
    take = MidiTake(tuple(MidiNote(stroke.at + 1, stroke.pitches[0]) for stroke in PART.strokes[:100]))
    judgement = judge_midi(take, PART)
    sent = packed(judgement, SharedPart(PART))
    back = unpacked(io.BytesIO(sent), SharedPart(PART))
    assert back == judgement
    assert back.performance.written is PART and back.performance.strokes[7].stroke is PART.strokes[7]
    assert len(sent) < 0.6 * len(pickle.dumps(judgement))


def test_what_is_not_of_the_part_is_sent_whole() -> None:
    told = (OTHER, OTHER.strokes[0], PART.strokes[3], player(PART)[0].at_s)
    for known in (None, SharedPart(PART)):
        back = unpacked(io.BytesIO(packed(told, known)), known)
        assert back == told and back[0] is not OTHER


def test_several_follow_each_other_in_one_file_and_its_end_is_told() -> None:
    known = SharedPart(PART)
    file = io.BufferedReader(io.BytesIO(packed("one", known) + packed(PART.strokes[0], known) + packed(3, None)))  # type: ignore[arg-type]
    assert unpacked(file, known) == "one"
    assert unpacked(file, known) is PART.strokes[0]
    assert unpacked(file, None) == 3
    with pytest.raises(EOFError):
        unpacked(file, known)
