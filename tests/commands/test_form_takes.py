"""Takes of a whole form from files and from the kept ones: each riff at its own tempo."""

import json
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.commands.conftest import Call
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes

FORM = """\
+++
title = "Two Gates"
id = "two-gates"
key = "E aeolian"
tempo = { start = 120, target = 180 }
form = ["Gate", "Slow gate", "Gate"]
+++

## Gate

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & 2 & 3 & 4 & |
5     |                         | 2 3 5 3 2   2 3 |
6     | 0 0 0 0 0 0 0 0 0 0 0 0 |           3     |
```

## Slow gate

```riff
tempo = { start = 80, target = 120 }
```

```tab guitar 1
count | 1 & 2 & 3 & 4 & | 1 2 3 4 |
4     | 2 4 5 7 5 4 2 4 | 5 4 2 r |
```
"""


@pytest.fixture
def form(call: Call, home: Path) -> Path:
    """A take of a whole form at three quarters of its tempos: as sound, as MIDI, and as sound without a note."""
    gate = home / "work"
    (gate / "two.md").write_text(FORM)
    (gate / "lost.md").write_text(FORM.replace("5 4 2 r", "5 r 2 r"))
    for name, of in (("form.wav", "two.md"), ("form.mid", "two.md"), ("lost.wav", "lost.md")):
        assert call("render", of, "--out", name, "--tempo", "75%", "--only", "guitar 1").code == 0
    return gate


def test_a_take_of_the_whole_form_is_judged_each_riff_at_its_own_tempo(call: Call, form: Path) -> None:
    for name in ("form.wav", "form.mid"):
        done = call("judge", "two.md", name, "--form", "--tempo", "75%")
        assert (done.code, "clean" in done.out) == (0, True), done
        assert "guitar 1 of the form of Two Gates, 135 bpm" in done.out
    (told,) = json.loads(call("judge", "two.md", "form.mid", "--form", "--tempo", "75%", "--json").out)
    assert (told["form"], told["riff"], told["bars"], told["verdict"]["measured"]["notes"]) == (True, "", [1, 6], 51)


def test_a_note_that_was_lost_in_a_form_is_named_by_its_bar_of_the_form(call: Call, form: Path) -> None:
    done = call("judge", "two.md", "lost.wav", "--form", "--tempo", "75%")
    assert "bar 4" in done.out.casefold()
    assert "missed" in done.out
    assert call("judge", "two.md", "form.mid", "--form", "--tempo", "75%", "--bars", "1-2").code == 0


def test_a_form_has_no_one_riff(call: Call, form: Path) -> None:
    done = call("judge", "two.md", "form.mid", "--form", "--riff", "Gate")
    assert (done.code, "leave --riff away" in done.err) == (2, True)


def test_a_kept_take_of_a_form_is_heard_against_its_form(call: Call, form: Path, home: Path) -> None:
    """The written form is the same performance: together they are just louder, from the first frame to the last."""
    from trainer.listening.take_file import read_take

    about = {
        "exercise": "two-gates", "file": str(form / "two.md"), "riff": "", "form": True, "tempo_bpm": 135.0,
        "first_bar": 1, "last_bar": 6, "passes": 1, "part": "guitar 1", "click": "none", "start_s": 0.0,
    }  # fmt: skip
    takes = Takes(home / "data" / "twinspur" / "takes")
    (take,) = read_take(form / "form.mid")
    takes.keep(take, None, TakeInfo.from_json(about), datetime(2031, 5, 4, 12, 0, 0).astimezone())
    assert call("takes", "--play", "1", "--out", "heard.wav").code == 0
    assert call("takes", "--play", "1", "--alone", "--out", "alone.wav").code == 0
    (heard, rate), (alone, _) = (soundfile.read(form / name) for name in ("heard.wav", "alone.wav"))
    for second in (0.0, 5.0, 10.0):  # in each riff
        frames = slice(int(second * rate), int((second + 1.5) * rate))
        both, one = heard[frames].mean(axis=1), alone[frames].mean(axis=1)
        product = np.fft.irfft(np.fft.rfft(both, 1 << 18) * np.conj(np.fft.rfft(one, 1 << 18)))
        assert min(int(np.argmax(product)), (1 << 18) - int(np.argmax(product))) < 48
        assert np.abs(both).max() > np.abs(one).max()
