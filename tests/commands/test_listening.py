"""judge, duo, takes, calibrate, listen: real files, a real sound server as the sound card, a real MIDI port."""

import json
import os
import re
import resource
import subprocess
import sys
import time
import wave
from datetime import datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
import rtmidi
import soundfile

from tests.commands.conftest import Call, Done
from tests.sound_servers import Pulse
from trainer.listening.take_info import TakeInfo
from trainer.listening.takes import Takes

TWINS = """\
+++
title = "Salt Gate"
id = "salt-gate"
key = "E aeolian"
tempo = { start = 120, target = 180 }
+++

## Gate

```tab guitar 1
count | 1 & a 2 & a 3 & a 4 & a | 1 & 2 & 3 & 4 & |
5     |                         | 2 3 5 3 2   2 3 |
6     | 0 0 0 0 0 0 0 0 0 0 0 0 |           3     |
```

```tab guitar 2
count | 1 & a 2 & a 3 & a 4 & a | 1 & 2 & 3 & 4 & |
5     |                         | 2 3 5 3 2   r 3 |
6     | 0 0 0 0 0 0 0 0 0 0 0 0 |           3     |
```
"""
"""Two guitars of which the second loses a note on bar 2, count 4."""
GATE = ["gate.md", "--riff", "Gate"]
LOW_ROAD = ["iron.md", "--riff", "Low road"]


@pytest.fixture
def gate(home: Path) -> Path:
    """The folder that commands run in, with the twins' exercise."""
    (home / "work" / "gate.md").write_text(TWINS)
    return home / "work"


def _take(call: Call, name: str, *words: str) -> None:
    assert call("render", *GATE, "--out", name, "--tempo", "150", *words).code == 0


def _stereo(left: Path, right: Path, out: Path, lead_s: float = 0.0) -> None:
    """Two mono takes on the sides of one file, the left one so much earlier."""
    (one, rate), (two, _) = (soundfile.read(path) for path in (left, right))
    sides = [one[:, 0], np.concatenate([np.zeros(round(lead_s * rate)), two[:, 0]])]
    sound = np.zeros((max(map(len, sides)), 2))
    for side, samples in enumerate(sides):
        sound[: len(samples), side] = samples
    soundfile.write(out, sound, rate)


# -- judge ----------------------------------------------------------------------------------------------------------


def test_a_clean_take_is_clean_with_its_figures(call: Call, gate: Path) -> None:
    _take(call, "a.wav", "--only", "guitar 1")
    done = call("judge", *GATE, "a.wav", "--tempo", "150")
    assert done.code == 0, done.err
    assert done.out.startswith("a.wav, guitar 1 of Gate, 150 bpm: clean\n")
    for words in ("bias     not known", "spread   ", "20 of 20 heard", "Next: all 2 bars at 154"):
        assert words in done.out
    found = re.search(r"long to short (\d\.\d\d) ", done.out)
    assert found  # strokes down and up begin alike to a millisecond
    assert float(found[1]) == pytest.approx(2, abs=0.02)


def test_a_lost_note_is_named_with_its_place_and_the_next_action(call: Call, gate: Path) -> None:
    _take(call, "b.flac", "--only", "guitar 2")
    done = call("judge", *GATE, "b.flac", "--tempo", "150", "--json")
    assert done.code == 0
    [told] = json.loads(done.out)
    assert told["verdict"]["outcome"] == "missed"
    reason = told["verdict"]["reasons"][0]
    assert (reason["bar"], reason["count"]) == (2, "4")
    assert told["verdict"]["measured"]["missed"] == 1
    assert [stroke["count"] for stroke in told["strokes"] if stroke["missed"]] == ["4"]
    assert told["next"]["first_bar"] == 2


def test_without_a_tempo_the_target_and_the_start_are_tried(call: Call, gate: Path) -> None:
    call("render", *GATE, "--out", "slow.wav", "--tempo", "120", "--only", "guitar 1")
    call("render", *GATE, "--out", "fast.wav", "--only", "guitar 1")
    assert "120 bpm: clean" in call("judge", *GATE, "slow.wav").out
    assert "180 bpm: clean" in call("judge", *GATE, "fast.wav").out


def test_a_midi_take_and_several_takes_at_once(call: Call, gate: Path) -> None:
    _take(call, "a.mid", "--only", "guitar 1")
    _take(call, "b.mid", "--only", "guitar 2")
    done = call("judge", *GATE, "a.mid", "b.mid", "--tempo", "150")
    assert done.code == 0
    assert "a.mid, guitar 1 of Gate, 150 bpm: clean" in done.out
    assert "b.mid, guitar 1 of Gate, 150 bpm: missed" in done.out
    assert "lost its down stroke on 4" in done.out
    both = call("judge", *GATE, "a.mid", "b.mid", "--tempo", "150", "--part", "guitar 1", "--part", "guitar 2")
    assert "b.mid, guitar 2 of Gate, 150 bpm: clean" in both.out


def test_each_side_of_a_stereo_file_is_a_guitarist(call: Call, gate: Path) -> None:
    _take(call, "a.wav", "--only", "guitar 1", "--pan", "guitar 1=-1")
    _take(call, "b.wav", "--only", "guitar 2", "--pan", "guitar 2=-1")
    _stereo(gate / "a.wav", gate / "b.wav", gate / "both.wav")
    done = call("judge", *GATE, "both.wav", "--tempo", "150")
    assert "both.wav (left), guitar 1 of Gate, 150 bpm: clean" in done.out
    assert "both.wav (right), guitar 2 of Gate, 150 bpm: clean" in done.out
    right = call("judge", *GATE, "both.wav", "--tempo", "150", "--side", "right", "--part", "guitar 1")
    assert "(left)" not in right.out
    assert "lost its down stroke" in right.out


def test_several_passes_in_one_take_and_some_bars(call: Call, gate: Path) -> None:
    _take(call, "a.wav", "--only", "guitar 1", "--passes", "3")
    assert "150 bpm, 3 passes: clean" in call("judge", *GATE, "a.wav", "--tempo", "150", "--passes", "3").out
    _take(call, "c.wav", "--only", "guitar 1", "--bars", "1")
    assert "bar 1, 150 bpm: clean" in call("judge", *GATE, "c.wav", "--tempo", "150", "--bars", "1").out


def test_bands_are_the_players_own(call: Call, gate: Path, home: Path) -> None:
    call("render", *GATE, "--out", "a.wav", "--tempo", "150", "--human", "3", "--only", "guitar 1")
    assert "clean" in call("judge", *GATE, "a.wav", "--tempo", "150").out.splitlines()[0]
    strict = call("judge", *GATE, "a.wav", "--tempo", "150", "--bands", "noticed=1,good=1,fair=1,poor=1,spread=1")
    assert "missed" in strict.out.splitlines()[0]
    (home / "config" / "twinspur").mkdir(parents=True)
    settings = "[listening.bands]\nnoticed = 1\ngood = 1\nfair = 1\npoor = 1\nspread = 1\n"
    (home / "config" / "twinspur" / "config.toml").write_text(settings)
    assert "missed" in call("judge", *GATE, "a.wav", "--tempo", "150").out.splitlines()[0]


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ("[listening]\nlevel = 2\n", 'config.toml:2:1: "level" is not a key of [listening]'),
        ("[listening]\nkeep_mib = 1\n", '"keep_mib" cannot be 1'),
        ("[listening]\nbands = { god = 3 }\n", 'Did you mean "good"'),
        ("[listening]\nbands = { good = 60 }\n", "Bands grow"),
    ],
)
def test_settings_of_listening_that_cannot_be_are_told(
    call: Call, gate: Path, home: Path, settings: str, message: str
) -> None:
    (home / "config" / "twinspur").mkdir(parents=True)
    (home / "config" / "twinspur" / "config.toml").write_text(settings)
    done = call("takes")
    assert (done.code, message in done.err) == (1, True), done.err


def test_pictures_of_takes(call: Call, gate: Path) -> None:
    _take(call, "a.wav", "--only", "guitar 1")
    assert call("judge", *GATE, "a.wav", "--tempo", "150", "--plot", "a.svg").code == 0
    titles = list(ElementTree.parse(gate / "a.svg").iter("{http://www.w3.org/2000/svg}title"))
    assert len(titles) == 21
    pytest.importorskip("resvg_py")
    assert call("judge", *GATE, "a.wav", "--tempo", "150", "--plot", "a.png").code == 0
    assert (gate / "a.png").read_bytes().startswith(b"\x89PNG")
    assert call("judge", *GATE, "a.wav", "--plot", "nowhere/a.svg").code == 1


def _spoilt(folder: Path, what: str) -> Path:
    """A file that cannot be judged."""
    path = folder / "spoilt.wav"
    rate, rng = 44_100, np.random.default_rng(1)
    sounds = {"silence": np.zeros(rate * 5), "noise": rng.normal(0, 0.1, rate * 6), "short": np.full(2_000, 0.1)}
    if what in sounds:
        soundfile.write(path, sounds[what], rate)
    elif what == "8 kHz":
        soundfile.write(path, rng.normal(0, 0.1, 40_000), 8_000)
    elif what == "truncated":
        soundfile.write(folder / "whole.flac", rng.normal(0, 0.1, rate), rate)
        path = folder / "spoilt.flac"
        path.write_bytes((folder / "whole.flac").read_bytes()[:50])
    elif what == "hostile":
        path = folder / "spoilt\x1b[31m.wav"
        path.write_bytes(b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\x01\0\x40\x1f\xff\xff\xff\xff" + b"\0" * 64)
    elif what == "3 hours":
        with wave.open(str(path), "wb") as file:
            file.setparams((1, 1, 22_050, 0, "NONE", ""))
            file.writeframes(b"")
        size = 3 * 3600 * 22_050
        header = bytearray(path.read_bytes())
        header[4:8], header[40:44] = (36 + size).to_bytes(4, "little"), size.to_bytes(4, "little")
        path.write_bytes(header)
        os.truncate(path, len(header) + size)  # no disk is filled: the file is a hole
    elif what == "MIDI":
        path = folder / "spoilt.mid"
        path.write_bytes(b"MThd\0\0\0\x06\0\x01\0\x02\x03\xc0MTrk\xff\xff\xff\xff\x00\x90")
    return path


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("silence", "No signal"),
        ("noise", "not match"),
        ("short", "shorter than half a second"),
        ("8 kHz", "8000 Hz"),
        ("truncated", "cut short"),
        ("hostile", "no audio that can be read"),
        ("3 hours", "It lasts 3:00:00"),
        ("MIDI", "damaged or cut short"),
        ("missing", "no such file"),
    ],
)
def test_what_cannot_be_judged_is_told_and_the_other_takes_are_judged(
    call: Call, gate: Path, what: str, words: str
) -> None:
    _take(call, "a.mid", "--only", "guitar 1")
    path = _spoilt(gate, what)
    begun = time.process_time()
    done = call("judge", *GATE, str(path), "a.mid", "--tempo", "150")
    assert done.code == 1
    assert words in done.out + done.err
    assert "\x1b" not in done.out + done.err
    assert "Traceback" not in done.err
    assert "a.mid, guitar 1 of Gate, 150 bpm: clean" in done.out
    assert time.process_time() - begun < 10


def test_another_exercise_is_not_followed(call: Call, gate: Path) -> None:
    call("render", "iron.md", "--riff", "Signal fires", "--out", "a.wav", "--only", "guitar 1")
    done = call("judge", *GATE, "a.wav")
    assert (done.code, "unjudged" in done.out) == (1, True)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["iron.md", "a.wav"], "Say which riff with --riff: Iron Causeway has Low road, Signal fires"),
        ([*LOW_ROAD, "a.wav", "--part", "guitar 9"], 'no part "guitar 9"'),
        ([*LOW_ROAD, "a.wav", "--part", "drums"], 'no part "drums"'),
        ([*LOW_ROAD, "a.wav", "--bars", "2-9"], "bars 1 to 2"),
        ([*LOW_ROAD, "a.wav", "--tempo", "9000"], "20 to 400 bpm"),
        ([*LOW_ROAD, "a.wav", "--bands", "god=3"], "Did you mean good"),
        ([*LOW_ROAD, "a.wav", "--bands", "good=900"], "good cannot be 900"),
        ([*LOW_ROAD, "a.wav", "--bands", "good=60"], "Bands grow"),
        ([*LOW_ROAD, "a.wav", "--plot", "a.jpg"], ".svg or .png"),
        ([*LOW_ROAD, "a.wav", "--passes", "0"], "from 1 to"),
        ([*LOW_ROAD, "a.wav", "--side", "middle"], "invalid choice"),
    ],
)
def test_a_call_that_cannot_be_is_told(call: Call, words: list[str], message: str) -> None:
    done = call("judge", *words)
    assert (done.code, message in done.err) == (2, True), done.err


# -- duo ------------------------------------------------------------------------------------------------------------


def test_the_sides_of_a_stereo_file_are_compared(call: Call, gate: Path) -> None:
    for name, part in (("a.wav", "guitar 1"), ("b.wav", "guitar 2")):
        _take(call, name, "--only", part, "--pan", f"{part}=-1")
    _stereo(gate / "a.wav", gate / "b.wav", gate / "both.wav", lead_s=0.012)
    words = ["duo", "both.wav", "--exercise", "gate.md", "--tempo", "150"]
    told = json.loads(call(*words, "--json").out)
    assert told["lead_known"]
    assert told["lead_ms"]["value"] == pytest.approx(12, abs=1.5)
    assert told["strokes"] == 19
    said = call(*words).out
    assert "The first guitar leads by 12 ms on average." in said
    assert "who leads" in said


def test_two_files_share_no_clock_unless_it_is_said(call: Call, gate: Path) -> None:
    for name, part in (("a.mid", "guitar 1"), ("b.mid", "guitar 2")):
        _take(call, name, "--only", part)
    words = ["duo", "a.mid", "b.mid", "--exercise", "gate.md", "--tempo", "150"]
    assert "Who leads is not known" in call(*words).out
    assert "Neither guitar leads." in call(*words, "--together").out


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["a.mid", "a.mid"], 2, "Say which exercise a.mid is of with --exercise"),
        (["a.mid", "--exercise", "gate.md"], 2, "holds one guitarist"),
        (["a.mid", "a.mid", "a.mid", "--exercise", "gate.md"], 2, "Two takes are compared"),
        (["1", "2"], 2, "none is kept"),
        (["none.wav", "a.mid", "--exercise", "gate.md"], 1, "no such file"),
    ],
)
def test_what_cannot_be_compared_is_told(call: Call, gate: Path, words: list[str], code: int, message: str) -> None:
    _take(call, "a.mid", "--only", "guitar 1")
    done = call("duo", *words)
    assert (done.code, message in done.err) == (code, True), done.err


# -- takes ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def kept(call: Call, gate: Path, home: Path) -> list[str]:
    """Three kept takes: an audio take that lost a note, a clean one, and a MIDI take; the newest is the last."""
    from trainer.commands.judging import judge, takes_of
    from trainer.commands.kept import subject_of
    from trainer.listening.takes import KeptTake

    takes = Takes(home / "data" / "twinspur" / "takes")
    names = []
    about: dict[str, Any] = {
        "exercise": "salt-gate", "file": str(gate / "gate.md"), "riff": "Gate", "tempo_bpm": 150.0, "first_bar": 1,
        "last_bar": 2, "passes": 1, "part": "guitar 1", "click": "beats", "start_known": False,
    }  # fmt: skip
    for second, (name, part) in enumerate((("b.wav", "guitar 2"), ("a.wav", "guitar 1"), ("a.mid", "guitar 1"))):
        _take(call, name, "--only", part)
        if name == "a.wav":  # recording began before the playing
            sound, rate = soundfile.read(gate / name)
            soundfile.write(gate / name, np.concatenate([np.zeros((round(0.3 * rate), 2)), sound]), rate)
        (take,) = takes_of(gate / name)
        subject = subject_of(KeptTake("x", gate / name, TakeInfo.from_json(about), None, False, 0))
        judgement, _ = judge(take.take, subject, "guitar 1", takes_bands())
        assert judgement.performance is not None
        at = datetime(2031, 5, 4, 12, 0, second).astimezone()
        info = TakeInfo.from_json({**about, "start_s": judgement.performance.start_s})
        names.append(takes.keep(take.take, judgement, info, at).name)
    return names


def takes_bands() -> Any:
    """The usual bands."""
    from trainer.listening.bands import Bands

    return Bands()


def test_takes_are_listed_the_newest_first(call: Call, kept: list[str]) -> None:
    assert call("takes").out.splitlines()[1].split()[:2] == ["1", kept[2]]
    told = json.loads(call("takes", "--json").out)
    assert [(each["name"], each["verdict"]["outcome"]) for each in told] == [
        (kept[2], "clean"), (kept[1], "clean"), (kept[0], "missed"),
    ]  # fmt: skip


def test_takes_are_marked_exported_and_deleted(call: Call, kept: list[str], gate: Path) -> None:
    assert "is marked" in call("takes", "--mark", "3").out
    assert "marked" in call("takes").out.splitlines()[3]
    assert call("takes", "--unmark", kept[0]).code == 0
    assert call("takes", "--export", "2", "mine.flac").code == 0
    assert soundfile.info(gate / "mine.flac").frames > 48_000
    assert call("takes", "--export", "2", "mine.flac").code == 1
    assert call("takes", "--export", "2", "mine.mp3").code == 2
    assert "is deleted" in call("takes", "--delete", kept[0]).out
    assert len(json.loads(call("takes", "--json").out)) == 2
    for word in ("9", "0", "../../x", "20310504-120000-009"):
        done = call("takes", "--delete", word)
        assert (done.code, "There is no take" in done.err) == (2, True)


def test_a_take_is_compared_with_an_earlier_one(call: Call, kept: list[str]) -> None:
    done = call("takes", "--compare", "2", "3")
    assert "Fewer missed notes: 0, 1 then." in done.out
    assert json.loads(call("takes", "--compare", "3", "2", "--json").out)["before"] == kept[0]


@pytest.mark.parametrize("number", ["1", "2"])
def test_a_take_is_heard_against_click_and_part_to_the_frame(
    call: Call, kept: list[str], gate: Path, number: str
) -> None:
    assert call("takes", "--play", number, "--out", "heard.wav").code == 0
    assert call("takes", "--play", number, "--alone", "--out", "alone.wav").code == 0
    (heard, rate), (alone, _) = (soundfile.read(gate / name) for name in ("heard.wav", "alone.wav"))
    assert np.abs(alone).max() > 0.02
    # The written part is the same performance: where both begin together, the take only grows louder, by the
    # level it is put behind.
    frames = slice(0, int(1.5 * rate))
    first = np.flatnonzero(np.abs(alone).max(axis=1) > 0.01)[0] / rate
    assert first == pytest.approx(0.0 if number == "1" else 0.3, abs=0.01)
    both, one = heard[frames].mean(axis=1), alone[frames].mean(axis=1)
    product = np.fft.irfft(np.fft.rfft(both, 1 << 18) * np.conj(np.fft.rfft(one, 1 << 18)))
    assert min(int(np.argmax(product)), (1 << 18) - int(np.argmax(product))) < 48
    assert np.abs(heard).max() > np.abs(alone).max()


def test_kept_takes_are_compared_as_a_duo_without_saying_more(call: Call, kept: list[str]) -> None:
    done = call("duo", "2", kept[0])
    assert done.code == 0, done.err
    assert "over 19 strokes" in done.out


def test_a_take_is_played_on_the_sound_card(call: Call, kept: list[str], pulse: Pulse, tmp_path: Path) -> None:
    recording = tmp_path / "heard.raw"
    with pulse.recording(recording):
        done = _run(pulse, "takes", "--play", "2")
    assert (done.code, done.err, done.out) == (0, "", f"{kept[1]}: playing\n")
    assert np.abs(np.fromfile(recording, np.float32)).max() > 0.02


# -- the sound card -------------------------------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def _in_work(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Children find the program and an empty home."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))


def _program(pulse: Pulse | None, *words: str, limit: int | None = None) -> "subprocess.Popen[str]":
    """The program with the null sink's monitor as its microphone: a cable from output to input."""
    environment = {**(pulse.environment if pulse else os.environ), "PULSE_SOURCE": "null.monitor"}

    def small_disk() -> None:
        if limit:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    return subprocess.Popen(
        [sys.executable, "-u", "-m", "trainer", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=environment, preexec_fn=small_disk,  # noqa: PLW1509  # it takes no lock
    )  # fmt: skip


def _run(pulse: Pulse | None, *words: str, limit: int | None = None) -> Done:
    program = _program(pulse, *words, limit=limit)
    out, err = program.communicate(timeout=120)
    return Done(program.returncode, out, err)


@pytest.fixture
def card(pulse: Pulse) -> Pulse:
    """A sound server that PortAudio reaches."""
    code = "import sounddevice; print(len(sounddevice.query_devices()))"
    done = subprocess.run(
        [sys.executable, "-c", code], env=pulse.environment, capture_output=True, text=True, check=False
    )
    if done.returncode or not int(done.stdout or 0):
        pytest.skip("PortAudio reaches no PulseAudio here (Debian: libportaudio2, libasound2-plugins)")
    return pulse


LOOP = "The microphone hears the other parts or the click"
PASS = ["listen", *GATE, "--tempo", "170", "--count-in", "0", "--click", "none"]


def test_the_round_trip_is_measured_kept_and_used(card: Pulse, gate: Path, call: Call) -> None:
    done = _run(card, "calibrate", "--json")
    if "The delay" in done.err:
        pytest.skip(f"this machine is too busy to measure: {done.err}")
    assert done.code == 0, done.err
    trips = json.loads(done.out)
    assert [trip["way"] for trip in trips] == ["", "stand"]
    listed = call("calibrate", "--list").out
    for trip in trips:
        assert (trip["output"], trip["input"]) == ("null", "null.monitor")  # not “default” or “pulse”
        assert 5 < trip["milliseconds"] < 400
        assert trip["spread_ms"] == max(trip["within_ms"], trip["between_ms"]) <= 6.0
        assert trip["openings"] >= 3
        assert f"{trip['milliseconds']:.1f} ms" in listed
    assert "twinspur listen" in listed
    assert "the stand" in listed
    # My own part sounds, and comes back through the cable: a player who is exactly on the click.
    warned = False
    for _ in range(3):  # a server that stumbles in mid-pass tears the other guitar's waveform apart, at worst in both
        heard = _run(card, *PASS, "--guide", "--passes", "2", "--json")
        assert (heard.code, heard.err) == (0, ""), heard.err
        told = [json.loads(line) for line in heard.out.splitlines()]
        assert [each["verdict"]["outcome"] for each in told if not each["overruns"]] == ["clean"] * sum(
            not each["overruns"] for each in told
        )
        assert {each["pass"] for each in told} == {1, 2}
        for each in told:
            if each["start_known"]:  # 2 ms on a quiet machine; the server's jumps are 5 to 15
                assert abs(each["timing"]["bias_ms"]["value"]) < 8
            warned |= LOOP in " ".join(each["warnings"])
        if warned:
            break
    assert warned
    assert "forgotten" in call("calibrate", "--forget").out
    assert call("calibrate", "--forget").code == 2


def test_a_pass_is_played_recorded_judged_kept_and_logged(card: Pulse, gate: Path, call: Call) -> None:
    done = _run(card, *PASS, "--passes", "2")  # the second guitar sounds, and is heard in my place
    assert (done.code, done.err) == (0, ""), done.err
    assert "Use headphones" in done.out
    assert "not calibrated" in done.out
    verdicts = [line for line in done.out.splitlines() if line.startswith("Pass ")]
    assert len(verdicts) == 2
    if "dropped frames" not in done.out:
        assert [line.rpartition(": ")[2] for line in verdicts] == ["missed", "missed"]
        assert "Bar 2 lost its down stroke on 4." in done.out
        assert "0 of 2 judged passes were clean." in done.out
    takes = json.loads(call("takes", "--json").out)
    assert [(take["riff"], take["part"], take["tempo_bpm"]) for take in takes] == [("Gate", "guitar 1", 170.0)] * 2
    assert json.loads(call("log", "--json").out)["totals"]["passes"] == 2
    assert call("takes", "--play", "1", "--out", "again.wav").code == 0
    again = (_run(card, *PASS, "--passes", "2").out for _ in range(2))  # where the server stumbled in both passes
    assert LOOP in done.out or any(LOOP in out for out in again)


def test_a_full_disk_keeps_no_take_and_the_verdict_stands(card: Pulse, gate: Path, home: Path) -> None:
    done = _run(card, *PASS, "--guide", "--passes", "1", limit=60_000)
    assert "Pass 1, guitar 1 of Gate, 170 bpm: " in done.out
    assert "The take cannot be kept" in done.out
    assert "Traceback" not in done.err
    folder = home / "data" / "twinspur" / "takes"
    assert not folder.exists() or list(folder.iterdir()) == []


def test_silence_is_told_and_the_pass_is_unjudged(card: Pulse, gate: Path, call: Call) -> None:
    done = _run(card, *PASS, "--without", "guitar 2", "--passes", "1")
    assert "unjudged" in done.out
    assert "No signal" in done.out
    [line] = json.loads(call("log", "salt-gate", "--json").out)
    assert (line["passes"], line["clean"], line["missed"]) == (1, 0, 0)
    assert json.loads(call("takes", "--json").out) == []


def test_a_card_that_vanishes_leaves_the_take_so_far(own_pulse: Pulse, gate: Path, call: Call) -> None:
    program = _program(own_pulse, *PASS, "--guide", "--tempo", "60")
    assert program.stdout is not None
    said = ""
    while "Ctrl-C ends it" not in said:
        said = program.stdout.readline()
        if not said:
            pytest.skip(f"PortAudio reaches no PulseAudio here: {program.stderr and program.stderr.read()}")
    time.sleep(7)  # of its pass of eight seconds; the first of the two bars lasts four
    own_pulse.process.terminate()
    out, err = program.communicate(timeout=60)
    assert program.returncode == 3
    assert "The sound card is no longer there." in err
    assert "Traceback" not in err
    assert "(cut short)" in out
    assert "The pass was broken off: bar 1 is judged, and the take is kept as unfinished." in out
    [take] = json.loads(call("takes", "--json").out)
    assert take["unfinished"]
    assert take["file"] == str(gate / "gate.md")


def test_no_sound_card_is_a_sentence(gate: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PULSE_SERVER", "unix:/nowhere")
    for words in (PASS, ["calibrate"]):
        done = _run(None, *words)
        assert (done.code, done.out) == (3, "")
        assert len(done.err.splitlines()) == 1
        assert "There is no sound output on this machine" in done.err


def test_devices_are_chosen_by_name(card: Pulse, gate: Path) -> None:
    done = _run(card, *PASS, "--device", "Moon")
    assert (done.code, "There is no sound input called “Moon”" in done.err) == (2, True)


@pytest.mark.usefixtures("jack")
def test_a_pass_by_midi_is_judged_from_the_drivers_stamps(card: Pulse, gate: Path) -> None:
    player = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="pickup")
    player.open_virtual_port("strings")
    try:
        program = _program(card, *PASS, "--passes", "1", "--midi", "pickup", "--count-in", "1")
        assert program.stdout is not None
        said = program.stdout.readline()
        assert "Salt Gate: guitar 1 of Gate, 170 bpm" in said, program.stderr and program.stderr.read()
        _perform(player, time.monotonic() + 4 * 60 / 170 + 0.1)
        out, err = program.communicate(timeout=60)
    finally:
        player.close_port()
        player.delete()
    assert (program.returncode, err) == (0, "")
    assert "Bar 2 lost its down stroke on 4." in out
    assert "19 of 20 heard, 0 at another pitch, 0 extra" in out


def _perform(player: Any, start: float) -> None:
    """The twin's line, as a pickup sends it: without the note on bar 2, count 4."""
    beat = 60 / 170
    notes = [(count + at, 40) for count in range(4) for at in (0, 0.5, 0.75)]
    notes += [(4 + k / 2, pitch) for k, pitch in enumerate((47, 48, 50, 48, 47, 43, None, 48)) if pitch]
    for at, pitch in notes:
        while time.monotonic() < start + at * beat:
            time.sleep(0.0005)
        player.send_message([0x90, pitch, 90])
        player.send_message([0x80, pitch, 0])


@pytest.mark.usefixtures("jack")
def test_a_midi_input_that_is_not_there_is_told(gate: Path) -> None:
    done = _run(None, *PASS, "--midi", "Moon")
    assert (done.code, "There is no MIDI input called 'Moon'" in done.err) == (3, True)
