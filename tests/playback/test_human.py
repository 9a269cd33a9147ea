from fractions import Fraction
from itertools import pairwise

from tests.playback.recording_sink import RecordingSink
from tests.playback.riffs import band, exercise
from trainer.playback.event import Event, Kind
from trainer.playback.human import FORCE, MOST_MS
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

MUSIC = band(4, 120)
LINE = Timeline.of(Piece.of(exercise(MUSIC), [MUSIC]), load_patches())


def notes(seed: int | None, part: str, passes: int = 1) -> list[Event]:
    sink = RecordingSink()
    transport = Transport(LINE, sink, Plan(Loop(0, 3), passes=passes, human_seed=seed))
    transport.play(4800)
    while transport.advance():
        sink.run_to(sink.now() + 4800)
    channels = LINE.layout.of_part(part)
    return [event for event in sink.of(Kind.NOTE_ON) if event.channel in channels]


def differences(seed: int, part: str) -> list[int]:
    return [mine.frame - exact.frame for mine, exact in zip(notes(seed, part), notes(None, part), strict=True)]


def test_the_same_seed_plays_the_same_and_another_one_differently() -> None:
    assert notes(7, "guitar 1") == notes(7, "guitar 1")
    assert notes(7, "guitar 1") != notes(8, "guitar 1")


def test_the_guitars_differ_from_each_other_within_bounds_and_bass_and_drums_stay_exact() -> None:
    one, two = differences(7, "guitar 1"), differences(7, "guitar 2")
    assert any(one)
    assert any(two)
    assert one[: len(two)] != two
    assert max(map(abs, one + two)) <= MOST_MS * 48 + 1
    assert not any(differences(7, "bass") + differences(7, "drums"))


def test_no_stroke_overtakes_another() -> None:
    frames = [event.frame for event in notes(3, "guitar 1", passes=4)]
    assert all(a < b for a, b in pairwise(frames))


def test_force_differs_too_and_each_pass_is_played_anew() -> None:
    twice = notes(7, "guitar 2", passes=2)
    exact = notes(None, "guitar 2")
    first, second = twice[: len(exact)], twice[len(exact) :]
    changes = [a.two - b.two for a, b in zip(first, exact, strict=True)]
    assert any(changes)
    assert max(map(abs, changes)) <= FORCE
    length = int(LINE.seconds(Loop(0, 3)) * 48000)
    assert [event.frame for event in second] != [event.frame + length for event in first]


def test_the_difference_shrinks_where_strokes_are_close() -> None:
    from trainer.playback.human import Human

    assert abs(Human(1).shift_ms("guitar 1", 1, 0, Fraction(15, 1000))) <= 5
