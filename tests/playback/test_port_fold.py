"""Six strings on one MIDI channel: none of them undoes what another does."""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from trainer.playback.event import Kind
from trainer.playback.port_fold import REST, Fold

ON, OFF, BEND, PROGRAM, CONTROL = Kind.NOTE_ON, Kind.NOTE_OFF, Kind.BEND, Kind.PROGRAM, Kind.CONTROL


def _sent(*events):
    fold = Fold()
    return [message for event in events for message in fold.messages(*event)]


def test_a_key_on_two_strings_ends_with_the_last_of_them():
    sent = _sent((ON, 0, 2, 64, 90), (ON, 1, 2, 64, 80), (OFF, 0, 2, 64, 0))
    assert sent == [(0x92, 64, 90), (0x92, 64, 80)]
    fold = Fold()
    for event in [(ON, 0, 2, 64, 90), (ON, 1, 2, 64, 80), (OFF, 0, 2, 64, 0)]:
        fold.messages(*event)
    assert fold.messages(OFF, 1, 2, 64, 0) == [(0x82, 64, 64), (0x82, 64, 64)]


def test_a_string_struck_again_ends_in_between():
    assert _sent((ON, 0, 2, 64, 90), (OFF, 0, 2, 64, 0), (ON, 0, 2, 64, 70)) == [
        (0x92, 64, 90),
        (0x82, 64, 64),
        (0x92, 64, 70),
    ]


def test_a_string_at_rest_does_not_unbend_another():
    sent = _sent((ON, 0, 2, 64, 90), (BEND, 0, 2, 10000, 0), (BEND, 1, 2, REST, 0))
    assert sent == [(0x92, 64, 90), (0xE2, 10000 & 0x7F, 10000 >> 7)]


def test_a_new_note_is_in_tune_though_another_string_was_bent():
    sent = _sent((BEND, 0, 2, 10000, 0), (ON, 1, 2, 64, 90))
    assert sent[1:] == [(0xE2, 0, 64), (0x92, 64, 90)]


def test_each_string_plays_with_its_own_program():
    sent = _sent((PROGRAM, 0, 2, 30, 0), (PROGRAM, 1, 2, 28, 0), (ON, 0, 2, 64, 90), (ON, 1, 2, 67, 90))
    programs = [message[1] for message in sent if message[0] == 0xC2]
    assert programs == [30, 28, 30, 28]


def test_one_program_for_all_strings_is_sent_once():
    sent = _sent(*[(PROGRAM, string, 2, 30, 0) for string in range(6)], (ON, 3, 2, 64, 90))
    assert sent == [(0xB2, 0, 0), (0xB2, 32, 0), (0xC2, 30), (0x92, 64, 90)]


def test_a_drum_kit_is_known_by_its_channel_not_by_a_bank():
    assert _sent((PROGRAM, 0, 9, 16, 128)) == [(0xC9, 16)]


def test_the_bend_range_of_every_string_arrives_whole():
    registered = [(CONTROL, 0, 2, number, value) for number, value in ((101, 0), (100, 0), (6, 24), (38, 0))]
    assert len(_sent(*registered, *registered)) == 8


def test_a_level_that_is_set_already_is_not_sent_again():
    assert _sent((CONTROL, 0, 2, 7, 100), (CONTROL, 1, 2, 7, 100), (CONTROL, 1, 2, 7, 90)) == [
        (0xB2, 7, 100),
        (0xB2, 7, 90),
    ]


def test_silence_reaches_every_channel():
    fold = Fold()
    fold.messages(ON, 0, 2, 64, 90)
    sent = fold.silence()
    assert sent[0] == (0x82, 64, 64)
    for channel in range(16):
        assert (0xB0 | channel, 120, 0) in sent
        assert (0xB0 | channel, 123, 0) in sent


events = st.one_of(
    st.tuples(st.just(ON), st.integers(0, 5), st.just(2), st.integers(60, 63), st.integers(1, 127)),
    st.tuples(st.just(OFF), st.integers(0, 5), st.just(2), st.integers(60, 63), st.just(0)),
    st.tuples(st.just(BEND), st.integers(0, 5), st.just(2), st.integers(0, 16383), st.just(0)),
    st.tuples(st.just(PROGRAM), st.integers(0, 5), st.just(2), st.integers(0, 127), st.integers(0, 200)),
)


@given(st.lists(events, max_size=60))
def test_after_silence_every_start_has_had_its_end(played):
    fold = Fold()
    sent = [message for event in played for message in fold.messages(*event)] + fold.silence()
    assert all(0 <= byte < 256 and (index == 0 or byte < 128) for message in sent for index, byte in enumerate(message))
    sounding: Counter[int] = Counter()
    for status, key, *_ in sent:
        if status == 0x92:
            sounding[key] += 1
        elif status == 0x82:
            sounding[key] = max(0, sounding[key] - 1)
    assert not +sounding


@given(st.lists(events, max_size=60))
def test_a_key_sounds_as_long_as_any_string_holds_it(played):
    fold, held = Fold(), Counter()
    for kind, inside, outside, one, two in played:
        before = +held
        sent = fold.messages(kind, inside, outside, one, two)
        if kind is ON:
            held[inside, one] += 1
        elif kind is OFF and held[inside, one]:
            held[inside, one] -= 1
        others = any(count for (_, key), count in held.items() if key == one)
        if kind is OFF and before and others:
            assert sent == []
