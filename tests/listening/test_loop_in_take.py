import numpy as np
import pytest

from tests.listening.plucked import RATE, gallop, player, record
from trainer.listening.loop_in_take import loop_lag
from trainer.listening.sound import Sound

SECONDS = 8.5
OWN = record(player(gallop(120, 4, 40), 0.15, 4.0, seed=1), SECONDS, seed=1).samples
LOOP = record(player(gallop(120, 4, 47), 0.0, 4.0, seed=2), SECONDS, seed=2)


def take(leaked: float, late_s: float, jump_s: float = 0.0) -> Sound:
    """The player's part, and the loop as the microphone hears it; half-way the sound server skips `jump_s`."""
    beside = np.pad(LOOP.samples, (round(late_s * RATE), 0))[: len(OWN)]
    whole = OWN + leaked * beside
    middle, skipped = len(whole) // 2, round(jump_s * RATE)
    return Sound(np.concatenate([whole[:middle], whole[middle + skipped :]]).astype(np.float32), RATE)


def test_a_loop_in_the_microphone_is_found_with_its_delay() -> None:
    assert loop_lag(take(0.3, 0.08), LOOP, latest_s=0.8) == pytest.approx(0.08, abs=2e-4)


@pytest.mark.parametrize("jump_s", [0.005, 0.015, 0.025])
def test_it_is_found_where_the_sound_server_stumbled(jump_s: float) -> None:
    assert loop_lag(take(0.3, 0.08, jump_s), LOOP, latest_s=0.8) == pytest.approx(0.08, abs=2e-4)


@pytest.mark.parametrize("jump_s", [0.0, 0.015])
def test_a_player_in_the_same_rhythm_is_not_taken_for_it(jump_s: float) -> None:
    assert loop_lag(take(0.0, 0.0, jump_s), LOOP, latest_s=0.8) is None
