import multiprocessing
import time
from pathlib import Path

from tests.one_at_a_time import room


def _visit(folder: Path, alone: bool, times: "multiprocessing.Queue[tuple[bool, float, float]]") -> None:
    for _ in range(5):
        with room(folder, alone):
            came = time.monotonic()
            time.sleep(0.02)
            times.put((alone, came, time.monotonic()))


def test_who_is_alone_meets_nobody_and_is_not_kept_out(tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    times = context.Queue()
    visitors = [context.Process(target=_visit, args=(tmp_path, alone, times)) for alone in (False, False, True)]
    for visitor in visitors:
        visitor.start()
    stays = [times.get(timeout=60) for _ in range(15)]
    for visitor in visitors:
        visitor.join()
    for alone, came, left in stays:
        if alone:
            met = [one for one in stays if one[1] < left and one[2] > came]
            assert met == [(alone, came, left)]
