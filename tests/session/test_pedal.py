"""A foot pedal is learned by pressing it, whatever it sends."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from trainer.playback.midi_source import ReceivedMessage, SourceGoneError
from trainer.playback.port_names import PortError
from trainer.practice.verdict import Outcome
from trainer.session.memory import MemoryKey, SessionMemory
from trainer.session.pedal import PEDAL, Learning, Pedal, Press, Switch
from trainer.session.pedal_watch import PedalWatch

NOTE, NOTE_OFF, SOFT_OFF = (0x90, 36, 100), (0x80, 36, 0), (0x90, 36, 0)
DOWN, UP = (0xB3, 64, 127), (0xB3, 64, 0)
PROGRAM = (0xC1, 7)


@pytest.mark.parametrize(
    ("message", "switch"),
    [(NOTE, Switch(Press.NOTE, 0, 36)), (DOWN, Switch(Press.CONTROL, 3, 64)), (PROGRAM, Switch(Press.PROGRAM, 1, 7)),
     (NOTE_OFF, None), (SOFT_OFF, None), (UP, None), ((), None), ((0xF8,), None), ((0xE0, 0, 64), None)],
)  # fmt: skip
def test_presses_are_told_from_releases(message: Sequence[int], switch: Switch | None) -> None:
    assert Switch.of(message) == switch


def test_learning_takes_the_first_press_for_clean_and_the_next_for_missed() -> None:
    learning = Learning("Floor").after(UP)
    assert learning == Learning("Floor")
    second = learning.after(DOWN)
    assert isinstance(second, Learning) and "missed" in second.ask
    pedal = second.after(UP)
    assert pedal == second
    learned = second.after(PROGRAM)
    assert isinstance(learned, Pedal)
    assert learned.meaning(DOWN) is Outcome.CLEAN
    assert learned.meaning(PROGRAM) is Outcome.MISSED
    assert learned.meaning(NOTE) is None


def test_the_same_switch_twice_means_that_there_is_only_one() -> None:
    learned = Learning("Floor", Switch.of(NOTE)).after(NOTE)
    assert isinstance(learned, Pedal) and learned.missed is None


@pytest.mark.parametrize("values", [None, {}, {"port": "x", "clean": None, "missed": None}, {"clean": ["no", 1, 2]}, 3])
def test_anything_else_is_no_pedal(values: object) -> None:
    memory = SessionMemory(None)
    memory.put(MemoryKey[object]("pedal", None), values)
    assert memory.get(PEDAL) is None


@dataclass
class Floor:
    """A pedal board under the test's foot."""

    came: list[tuple[int, ...]] = field(default_factory=list)
    gone: bool = False
    closed: bool = False

    def take(self) -> list[ReceivedMessage]:
        if self.gone:
            raise SourceGoneError("The MIDI input 'Floor' is no longer there.")
        taken, self.came = self.came, []
        return [ReceivedMessage(0.0, message) for message in taken]

    def close(self) -> None:
        self.closed = True


def test_a_learned_pedal_judges_is_remembered_and_may_be_unplugged(tmp_path: Path) -> None:
    floor, told = Floor(), list[str]()
    memory = SessionMemory(tmp_path / "stand.json")
    watch = PedalWatch(memory, lambda _: floor, told.append)
    watch.learn("Floor")
    floor.came = [NOTE, NOTE_OFF, PROGRAM]
    assert watch.poll() == []
    floor.came = [PROGRAM, NOTE, NOTE_OFF]
    assert watch.poll() == [Outcome.MISSED, Outcome.CLEAN]
    floor.gone = True
    assert watch.poll() == []
    assert "no longer" in told[-1] and floor.closed and not watch.listening
    memory.close()
    again = PedalWatch(SessionMemory(tmp_path / "stand.json"), lambda _: Floor([NOTE]), told.append)
    again.begin()
    assert again.poll() == [Outcome.CLEAN]


def test_a_pedal_that_is_not_there_at_the_start_is_nothing_to_worry_about(tmp_path: Path) -> None:
    memory = SessionMemory(tmp_path / "stand.json")
    memory.put(PEDAL, Pedal("Floor", Switch(Press.NOTE, 0, 1)))

    def missing(name: str) -> Floor:
        raise PortError(f"There is no {name}.")

    watch = PedalWatch(memory, missing, lambda _: None)
    watch.begin()
    assert not watch.listening and watch.poll() == []
