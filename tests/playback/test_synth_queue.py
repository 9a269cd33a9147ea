"""The queue in front of the real synth, without a device: its clock goes as far as the test renders."""

from collections import Counter
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.playback.tiny_bank import TONE
from trainer.playback.block_clock import TICKS_A_SECOND, BlockClock
from trainer.playback.event import Event, Kind
from trainer.playback.fluid import BLOCK, Sequencer
from trainer.playback.synth_options import SynthOptions
from trainer.playback.synth_queue import SynthQueue

RATE = 48000
CLOCK = BlockClock(RATE)


class Stage:
    """A synth on which every note adds a voice that stays: how many sound after a block tells what was carried out."""

    def __init__(self, bank: Path) -> None:
        self.synth = SynthOptions(reverb=False, chorus=False).make(bank)
        for channel in range(16):
            self.synth.program(channel, 0, TONE)
        self.sequencer = Sequencer(self.synth, TICKS_A_SECOND)
        self.queue = SynthQueue(self.sequencer, CLOCK)
        self.blocks = 0
        self._notes = 0

    @property
    def now(self) -> int:
        return CLOCK.frame(self.sequencer.now())

    def strike(self, frame: int) -> None:
        """A note that no other is like."""
        channel, key = divmod(self._notes, 100)
        self._notes += 1
        self.queue.send(Event(frame, Kind.NOTE_ON, channel, 10 + key, 1), self.now)

    def render(self, blocks: int) -> list[int]:
        """How many notes sound after each of the next blocks."""
        sounding = []
        for _ in range(blocks):
            self.synth.render(BLOCK)
            self.blocks += 1
            sounding.append(self.synth.voices())
        return sounding

    def close(self) -> None:
        self.sequencer.close()
        self.synth.close()


offsets = st.lists(st.integers(BLOCK, 20 * BLOCK), max_size=8).map(sorted)
steps = st.lists(st.tuples(offsets, st.none() | st.integers(BLOCK, 22 * BLOCK), st.integers(1, 12)), max_size=8)


@settings(max_examples=60, deadline=None)
@given(steps=steps)
def test_what_is_due_before_a_cut_sounds_once_at_its_block_and_the_rest_never(
    steps: list[tuple[list[int], int | None, int]], tiny_bank: Path
) -> None:
    stage = Stage(tiny_bank)
    waiting: list[int] = []
    struck: Counter[int] = Counter()
    stage.render(3)
    for sent, cut, blocks in [*steps, ([], None, 30)]:
        begin = stage.blocks * BLOCK  # the next block that is rendered
        for offset in sent:
            stage.strike(begin + offset)
            waiting.append(begin + offset)
        if cut is not None:
            stage.queue.withdraw_from(begin + cut, stage.now)
            waiting = [frame for frame in waiting if CLOCK.block(frame) < stage.blocks or frame < begin + cut]
        until = stage.blocks + blocks
        struck.update(CLOCK.block(frame) for frame in waiting if CLOCK.block(frame) < until)
        waiting = [frame for frame in waiting if CLOCK.block(frame) >= until]
        wanted = [sum(count for block, count in struck.items() if block <= at) for at in range(stage.blocks, until)]
        assert stage.render(blocks) == wanted
    stage.close()


def test_a_cut_inside_a_block_parts_the_frames_of_that_block(tiny_bank: Path) -> None:
    stage = Stage(tiny_bank)
    middle = 20 * BLOCK
    for frame in range(middle - 20, middle + 20):
        stage.strike(frame)
    stage.queue.withdraw_from(middle, stage.now)
    assert stage.render(30)[-1] == 20
    stage.close()


def test_a_note_that_stays_is_ended_in_the_block_of_the_cut_and_not_where_a_withdrawn_one_began(
    tiny_bank: Path,
) -> None:
    stage = Stage(tiny_bank)
    middle = 20 * BLOCK
    on, off = Event(middle - 5, Kind.NOTE_ON, 0, 60, 1), Event(middle + 400 * BLOCK, Kind.NOTE_OFF, 0, 60, 0)
    again = on._replace(frame=middle + 400 * BLOCK)
    for event in (on, off, again):
        stage.queue.send(event, stage.now)
    stage.queue.withdraw_from(middle, stage.now)
    stage.queue.send(off._replace(frame=middle), stage.now)
    sounding = stage.render(200)
    assert max(sounding) == 1
    assert sounding[-1] == 0
    stage.close()


def test_groups_are_used_again(tiny_bank: Path) -> None:
    stage = Stage(tiny_bank)
    for number in range(300):
        begin = stage.blocks * BLOCK
        for n in range(5):
            stage.queue.send(Event(begin + 4 * BLOCK + n, Kind.CONTROL, 0, 7, 100), stage.now)
        if number % 2:
            stage.queue.withdraw_from(begin + 4 * BLOCK + 2, stage.now)
        stage.render(2)
    assert stage.sequencer.new_group() < 40  # clients are numbered in order; 1,500 frames were asked for
    stage.close()


def test_everything_is_dropped_by_a_plain_withdrawal(tiny_bank: Path) -> None:
    stage = Stage(tiny_bank)
    for frame in range(BLOCK, 40 * BLOCK, 50):
        stage.strike(frame)
    stage.queue.withdraw()
    assert stage.render(50)[-1] == 0
    stage.close()
