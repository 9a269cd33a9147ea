from hypothesis import given
from hypothesis import strategies as st

from trainer.playback.block_clock import LONGEST, TICKS_A_SECOND, BlockClock, TickOrder
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK

rates = st.sampled_from([22050, 44100, 48000])
frames = st.integers(0, LONGEST * 44100)
keys = st.integers(40, 42)


@given(rates, frames)
def test_the_block_is_the_nearest(rate, frame):
    assert abs(BlockClock(rate).block(frame) * BLOCK - frame) <= BLOCK // 2


@given(rates, frames)
def test_an_event_is_due_at_its_block_and_not_before(rate, frame):
    clock = BlockClock(rate)
    block = clock.block(frame)
    tick = TickOrder(clock).tick(Event(frame, Kind.NOTE_ON, 0, 40, 100))
    reached = 1000 * BLOCK * block // rate * TICKS_A_SECOND // 1000
    before = 1000 * BLOCK * (block - 1) // rate * TICKS_A_SECOND // 1000
    assert tick <= reached
    assert block == 0 or tick > before


@given(rates, frames)
def test_the_clock_tells_the_block_that_was_reached(rate, frame):
    clock = BlockClock(rate)
    block = clock.block(frame)
    assert clock.frame(clock.last_tick(block)) == block * BLOCK


@given(st.integers(0, 10_000), st.lists(st.tuples(st.integers(0, 200), st.booleans(), keys), max_size=60))
def test_starts_and_ends_of_a_key_are_carried_out_in_the_order_they_were_sent(start, notes):
    """As FluidSynth sorts them: by tick, and at one tick the starts of notes last."""
    order = TickOrder(BlockClock(48000))
    kinds = {True: Kind.NOTE_ON, False: Kind.NOTE_OFF}
    sent = sorted(Event(start + offset, kinds[on], 0, key, 100 * on) for offset, on, key in notes)
    placed = [(order.tick(event), event.kind, event.one) for event in sent]
    for key in (40, 41, 42):
        of_key = [(tick, kind) for tick, kind, one in placed if one == key]
        assert of_key == sorted(of_key)


def test_a_notes_end_follows_its_start_even_when_the_block_is_full():
    order = TickOrder(BlockClock(48000))
    for number in range(100):
        order.tick(Event(6400, Kind.CONTROL, 1, 7, number))
    start = order.tick(Event(6400, Kind.NOTE_ON, 0, 40, 100))
    end = order.tick(Event(6401, Kind.NOTE_OFF, 0, 40, 0))
    assert end > start


def test_a_forgotten_order_places_earlier_frames_again():
    order = TickOrder(BlockClock(48000))
    first = order.tick(Event(640, Kind.NOTE_ON, 0, 40, 100))
    order.tick(Event(64000, Kind.NOTE_OFF, 0, 40, 0))
    order.forget()
    assert order.tick(Event(640, Kind.NOTE_ON, 0, 40, 100)) == first


def test_what_is_sent_after_a_cut_follows_what_stayed_in_its_block():
    order = TickOrder(BlockClock(48000))
    stays = Event(6399, Kind.NOTE_ON, 0, 40, 100)
    tick = order.tick(stays)
    order.tick(Event(64000, Kind.NOTE_ON, 0, 40, 100))
    order.restart([(stays, tick)])
    end = order.tick(Event(6400, Kind.NOTE_OFF, 0, 40, 0))
    assert tick < end <= BlockClock(48000).last_tick(100)
