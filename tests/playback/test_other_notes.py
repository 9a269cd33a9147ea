"""Another timeline of the same bars takes the place of one that plays."""

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.playback.recording_sink import CuttingSink, RecordingSink, unmatched
from tests.playback.riffs import band, exercise, guitar, melody_bar, riff
from trainer.music.note import Moment, Note
from trainer.music.riff import Riff
from trainer.playback.event import Event, Kind
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

RIG = load_patches()
BEAT = 24_000  # at 120 bpm
HELD = (Moment(Fraction(0), (Note(5, 2),)),)


def timeline(*riffs: Riff) -> Timeline:
    return Timeline.of(Piece.of(exercise(*riffs), riffs), RIG)


def twins(*second: int, string: int = 2) -> Timeline:
    """A held note, and over it a second guitar in quarters."""
    answer = guitar(melody_bar(*second, string=string), name="guitar 2")
    return timeline(riff(guitar(HELD), answer, target=120))


def play(transport: Transport, sink: RecordingSink, frames: int) -> None:
    end = sink.now() + frames
    while sink.now() < end:
        transport.advance()
        sink.run_to(min(end, sink.now() + 960))


def struck(sink: RecordingSink, line: Timeline, part: str) -> list[Event]:
    return [event for event in sink.of(Kind.NOTE_ON) if event.channel in line.layout.of_part(part)]


@pytest.mark.parametrize("kind", [RecordingSink, CuttingSink])
def test_the_other_notes_are_heard_from_the_next_one_on_and_the_beat_goes_on(kind: type[RecordingSink]) -> None:
    third, sixth = twins(3, 5, 7, 8), twins(8, 10, 12, 13)
    sink = kind()
    transport = Transport(third, sink, Plan(Loop(0, 0), passes=None))
    transport.play(4800)
    play(transport, sink, 4800 + BEAT + BEAT // 2)
    transport.set_timeline(sixth)
    assert transport.position().bar == 0 and transport.timeline is sixth
    play(transport, sink, 4 * BEAT)
    answer = struck(sink, third, "guitar 2")
    open_b = answer[0].one - 3
    assert [event.one - open_b for event in answer] == [3, 5, 12, 13, 8, 10]
    assert [event.frame for event in answer] == [4800 + n * BEAT for n in range(6)]


def test_what_both_have_sounds_on_and_what_is_gone_ends_at_once() -> None:
    third, sixth = twins(3, 5, 7, 8), twins(8, 10, 12, 13)
    sink = CuttingSink()
    transport = Transport(third, sink, Plan(Loop(0, 0), passes=None))
    transport.play(4800)
    play(transport, sink, 4800 + BEAT // 2)
    transport.set_timeline(sixth)
    changed = sink.now()
    play(transport, sink, 2 * BEAT)
    assert len(struck(sink, third, "guitar 1")) == 1
    held, answer = third.layout.of_part("guitar 1"), third.layout.of_part("guitar 2")
    ends = [event for event in sink.of(Kind.NOTE_OFF) if event.channel in answer]
    assert ends[0].frame == changed + sink.min_ahead < 4800 + BEAT
    assert not [event for event in sink.of(Kind.NOTE_OFF) if event.channel in held]
    transport.stop()
    sink.run_to(sink.now() + BEAT)
    assert unmatched(sink.done) == ([], [])


def test_at_rest_and_while_counting_in_it_is_there_when_the_playing_begins() -> None:
    third, sixth = twins(3, 5, 7, 8), twins(8, 10, 12, 13)
    sink = RecordingSink()
    transport = Transport(third, sink, Plan(Loop(0, 0), passes=None, count_in=1, click=RIG.click_pattern("beats")))
    transport.set_timeline(sixth)
    transport.play(4800)
    play(transport, sink, 2 * BEAT)
    transport.set_timeline(third)
    play(transport, sink, 4 * BEAT)
    assert [event.frame for event in struck(sink, third, "guitar 2")][:1] == [4800 + 4 * BEAT]
    assert struck(sink, third, "guitar 2")[0].one == struck(sink, third, "guitar 2")[1].one - 2
    assert len(sink.of(Kind.CLICK)) == 7 - 1


def test_tones_are_the_same_where_place_pitch_channel_and_sound_are() -> None:
    one, other = twins(3, 5, 7, 8), twins(3, 5, 7, 9)
    same = one.tones_in(other)
    assert len(same) == len(one.tones) - 1
    assert all(one.tones[index] == other.tones[there] for index, there in same.items())
    moved = twins(8, 10, 12, 13, string=3)
    assert len(one.tones_in(moved)) == 1  # other strings are other channels


def test_other_bars_parts_or_patches_are_refused() -> None:
    line = twins(3, 5, 7, 8)
    transport = Transport(line, RecordingSink(), Plan(Loop(0, 0), passes=None))
    longer = timeline(band(2))
    quieter = replace(line, voices=tuple(replace(voice, level_db=-6.0) for voice in line.voices))
    for other in (longer, quieter):
        with pytest.raises(ValueError, match="other bars"):
            transport.set_timeline(other)
    assert transport.timeline is line
