"""What the tab says about a note, as it reaches the synth."""

from fractions import Fraction
from itertools import pairwise
from math import pi

import pytest

from tests.playback.recording_sink import RecordingSink
from tests.playback.riffs import exercise, guitar, riff
from trainer.music.note import Attack, DrumMoment, Force, Hit, Moment, Note, Touch
from trainer.music.part import DrumPart, PartSettings, TabPart
from trainer.music.problem import ProblemsError
from trainer.playback.channels import VOLUME
from trainer.playback.event import Event, Kind
from trainer.playback.gesture import RANGE, REST, wheel
from trainer.playback.piece import Piece
from trainer.playback.plan import Plan
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.articulation import Articulation
from trainer.sounds.load_patches import load_patches

RIG = load_patches()
START = 1088
QUARTER = 24000  # at 120 bpm and 48 kHz


def compiled(*parts: TabPart | DrumPart, settings: tuple[PartSettings, ...] = ()) -> Timeline:
    music = riff(*parts, target=120)
    return Timeline.of(Piece.of(exercise(music, settings=settings), [music]), RIG)


def played(*moments: Moment) -> list[Event]:
    """The events of one bar of guitar at 120 bpm, frames counted from its downbeat."""
    line = compiled(guitar(moments))
    sink = RecordingSink()
    transport = Transport(line, sink, Plan.once(line.piece))
    transport.play()
    while transport.advance():
        sink.run_to(sink.now() + 4800)
    return [event._replace(frame=event.frame - START) for event in sink.done]


def note(beat: int, string: int, fret: int, attack: Attack = Attack.PICK, **values: object) -> Moment:
    """One note on a beat; marks of the moment and of the note by name."""
    marks = {name: values.pop(name) for name in ("mute", "ring", "accent") if name in values}
    return Moment(Fraction(beat, 4), (Note(string, fret, attack, **values),), **marks)  # type: ignore[arg-type]


def rest(beat: int) -> Moment:
    return Moment(Fraction(beat, 4), rest=True)


def spans(events: list[Event]) -> list[tuple[int, int, int]]:
    """Start, end and key of every note, in order of start."""
    found, open_notes = [], {}
    for event in events:
        if event.kind is Kind.NOTE_ON:
            open_notes[event.channel, event.one] = event.frame
        elif event.kind is Kind.NOTE_OFF:
            found.append((open_notes.pop((event.channel, event.one)), event.frame, event.one))
    return sorted(found)


def velocities(events: list[Event]) -> list[int]:
    return [event.two for event in events if event.kind is Kind.NOTE_ON]


def bends(events: list[Event]) -> list[tuple[int, int]]:
    return [(event.frame, event.one) for event in events if event.kind is Kind.BEND]


def test_a_note_sounds_until_the_next_of_its_part() -> None:
    assert spans(played(note(0, 6, 0), note(1, 5, 2), rest(2))) == [(0, QUARTER, 40), (QUARTER, 2 * QUARTER, 47)]


def test_a_palm_muted_note_is_shorter_and_of_another_sound() -> None:
    events = played(note(0, 6, 0), note(1, 6, 0, mute=True), note(2, 6, 0, mute=True), note(3, 6, 0))
    assert [end - start for start, end, _ in spans(events)][1:3] == [220 * 48] * 2  # 220 ms at most
    quick = played(*(Moment(Fraction(i, 16), (Note(6, 0),), mute=True) for i in range(16)))
    assert {end - start for start, end, _ in spans(quick)} == {4800}  # four fifths of a sixteenth
    patch = RIG.for_part("guitar 1")
    programs = [(event.frame, event.one) for event in events if event.kind is Kind.PROGRAM]
    muted, plain = (patch.preset(each).program for each in (Articulation.PALM_MUTED, Articulation.OPEN))
    assert programs == [(0, plain), (QUARTER, muted), (3 * QUARTER, plain)]


def test_a_dead_note_is_a_knock() -> None:
    events = played(note(0, 6, 0, touch=Touch.DEAD), rest(1))
    assert spans(events) == [(0, 50 * 48, 40)]


def test_a_short_note_lasts_half_its_time() -> None:
    assert spans(played(note(0, 6, 0, short=True), rest(1))) == [(0, QUARTER // 2, 40)]


def test_accents_are_louder_and_hammered_notes_softer() -> None:
    plain, accent, strong, hammered = velocities(
        played(note(0, 2, 5), note(1, 2, 5, accent=">"), note(2, 2, 5, accent="^"), note(3, 2, 7, Attack.HAMMER))
    )
    assert hammered < plain < accent < strong


def test_a_hammered_note_leaves_no_gap() -> None:
    events = played(note(0, 2, 5, mute=True), note(1, 2, 7, Attack.HAMMER), rest(2))
    assert spans(events)[0] == (0, QUARTER, 64)


def test_ringing_notes_sound_together() -> None:
    events = played(note(0, 5, 2, ring=True), note(1, 4, 2, ring=True), note(2, 3, 1, ring=True))
    assert [end for _, end, _ in spans(events)] == [4 * QUARTER] * 3


def test_a_harmonic_sounds_its_own_pitch() -> None:
    assert spans(played(note(0, 6, 12, touch=Touch.HARMONIC), rest(1))) == [(0, QUARTER, 52)]
    assert spans(played(note(0, 6, 5, touch=Touch.HARMONIC), rest(1))) == [(0, QUARTER, 64)]


def test_a_bend_lands_on_the_written_fret_is_let_down_and_is_gone_for_the_next_note() -> None:
    events = played(note(0, 2, 8, bend=10, release=8), note(2, 2, 8))
    moves = bends(events)
    values = [value for _, value in moves]
    assert max(values) == wheel(2)
    top = values.index(wheel(2))
    assert values[:top] == sorted(values[:top])
    assert values[top:] == sorted(values[top:], reverse=True)
    assert moves[-1] == (pytest.approx(36000, abs=240), REST)  # let down by three quarters of its half bar
    held = played(note(0, 2, 8, bend=10), note(1, 2, 8))
    assert bends(held)[-2:] == [(150 * 48, wheel(2)), (QUARTER, REST)]
    order = [event.kind for event in held if event.frame == QUARTER]
    assert order == [Kind.NOTE_OFF, Kind.BEND, Kind.NOTE_ON]


def test_vibrato_pulls_the_string_up_and_lets_it_back_in_steps_of_at_most_five_milliseconds() -> None:
    moves = bends(played(note(0, 2, 8, vibrato=True), rest(3)))
    values = [value for _, value in moves]
    assert min(values) == REST
    assert max(values) == wheel(0.6)
    frames = [frame for frame, _ in moves]
    assert max(abs(b - a) for a, b in pairwise(values[:-1])) <= 0.3 * 2 * pi * 5.5 * 0.005 * 8192 / RANGE
    middle = wheel(0.3)
    crossings = sum((a - middle) * (b - middle) < 0 for a, b in pairwise(values))
    seconds = (frames[-1] - frames[0]) / 48000
    assert crossings / 2 / seconds == pytest.approx(5.5, rel=0.15)


def test_vibrato_on_a_bend_goes_down_from_it_and_comes_back() -> None:
    moves = bends(played(note(0, 2, 8, bend=10, vibrato=True), rest(3)))
    swaying = [value for frame, value in moves[:-1] if frame > 150 * 48]
    assert max(swaying) == wheel(2)
    assert min(swaying) == wheel(1.6)


def test_a_bend_sets_out_and_arrives_gently() -> None:
    up = [value for frame, value in bends(played(note(0, 2, 8, bend=10), rest(3))) if frame <= 150 * 48]
    steps = [b - a for a, b in pairwise([REST, *up])]
    assert max(steps[:3]) < max(steps) / 3
    assert max(steps[-3:]) < max(steps) / 3


def test_a_slide_glides_to_its_note_which_is_then_struck_softly() -> None:
    events = played(note(0, 2, 5), note(1, 2, 9, Attack.SLIDE_UP), rest(2))
    assert spans(events) == [(0, QUARTER, 64), (QUARTER, 2 * QUARTER, 68)]
    moves = bends(events)
    assert moves[0][0] > QUARTER - 70 * 48 - 2
    assert moves[-2:] == [(QUARTER - 1, wheel(4)), (QUARTER, REST)]
    assert velocities(events)[1] < velocities(events)[0]


def test_a_slide_from_nowhere_starts_two_frets_away() -> None:
    assert bends(played(note(0, 2, 9, Attack.SLIDE_UP), rest(1)))[0] == (0, wheel(-2))
    assert bends(played(note(0, 2, 9, Attack.SLIDE_DOWN), rest(1)))[0] == (0, wheel(2))


def test_a_bend_on_one_string_leaves_the_others_alone() -> None:
    both = Moment(Fraction(0), (Note(1, 5), Note(2, 8, bend=10)))
    assert {event.channel for event in played(both) if event.kind is Kind.BEND} == {1}


def test_drums_sound_by_their_kit_in_three_forces() -> None:
    bar = tuple(
        DrumMoment(Fraction(i, 4), (Hit("snare", force),))
        for i, force in enumerate((Force.GHOST, Force.NORMAL, Force.ACCENT))
    )
    tones = compiled(DrumPart("drums", (bar,))).tones
    assert [tone.key for tone in tones] == [38] * 3
    assert tones[0].velocity < tones[1].velocity < tones[2].velocity


def test_a_part_may_have_a_patch_level_and_pan_of_its_own() -> None:
    settings = (PartSettings("guitar 1", patch="clean left", level_db=-6, pan=1.0),)
    line = compiled(guitar((note(0, 1, 0),)), settings=settings)
    voice = line.voice("guitar 1")
    assert (voice.patch.name, voice.level_db, voice.pan) == ("clean left", -6, 1.0)
    sink = RecordingSink()
    Transport(line, sink, Plan.once(line.piece))
    assert {e.two for e in sink.prepared if e.channel < 6 and e.kind is Kind.CONTROL and e.one == VOLUME} == {71}


@pytest.mark.parametrize(
    ("patch", "message"), [("drums", "plays drums, but guitar 1 is written for strings"), ("led", "lead left")]
)
def test_a_patch_that_cannot_play_a_part_is_a_problem(patch: str, message: str) -> None:
    with pytest.raises(ProblemsError, match=message):
        compiled(guitar((note(0, 1, 0),)), settings=(PartSettings("guitar 1", patch=patch),))


def test_more_strings_than_channels_are_a_problem() -> None:
    parts = [guitar((note(0, 1, 0),), name=f"guitar {n}") for n in range(1, 45)]
    with pytest.raises(ProblemsError, match="at most 256"):
        compiled(*parts)


def takes(*moments: Moment) -> list[int]:
    """Which of four takes each stroke of a bar sounds."""
    return [tone.velocity % 4 for tone in compiled(guitar(moments)).tones]


def test_strokes_down_and_up_are_different_sounds_and_no_two_equal_strokes_are_the_same_take() -> None:
    figure = "dduddudd"
    marked = [Moment(Fraction(i, 8), (Note(6, 0),), pick=pick) for i, pick in enumerate(figure)]
    found = takes(*marked)
    assert ["du"[take % 2] for take in found] == list(figure)
    assert [take // 2 for take in found] == [0, 1, 0, 0, 1, 1, 0, 1]  # in turn, down and up each


@pytest.mark.parametrize(("places", "found"), [(range(0, 16, 2), "dudududu"), ([0, 2, 3, 4, 6, 7, 8], "dduddud")])
def test_strokes_that_are_not_marked_follow_the_finest_notes_of_the_part(places: list[int], found: str) -> None:
    strokes = takes(*(Moment(Fraction(at, 16), (Note(6, 0),)) for at in places))
    assert "".join("du"[take % 2] for take in strokes) == found


def test_the_strings_of_a_chord_are_one_stroke() -> None:
    chord = (Note(4, 2), Note(5, 2), Note(6, 0))
    assert takes(*(Moment(Fraction(beat, 4), chord) for beat in range(2))) == [0, 0, 0, 2, 2, 2]


def test_the_hits_of_a_drum_take_turns_each_piece_for_itself() -> None:
    bar = tuple(DrumMoment(Fraction(i, 8), (Hit("hat"), *([Hit("snare")] if i % 2 else []))) for i in range(8))
    line = compiled(DrumPart("drums", (bar,)))
    hats, snares = ([tone.velocity % 4 for tone in line.tones if tone.key == key] for key in (42, 38))
    assert hats == [0, 1, 2, 3, 0, 1, 2, 3]
    assert snares == [0, 1, 2, 3]
