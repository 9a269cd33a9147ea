"""render and play to files: what sounds, for how long, and that nothing is left half-written."""

import json
import resource
import signal
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

from tests.commands.conftest import Call


def _sound(path: Path) -> tuple[np.ndarray, int]:
    return soundfile.read(path)


def _starts(sound: np.ndarray, rate: int) -> list[float]:
    """Seconds at which something begins after at least 50 ms of quiet."""
    loud = np.abs(sound).max(axis=1) > 0.01
    at = np.flatnonzero(loud)
    first = np.r_[True, np.diff(at) > 0.05 * rate]
    return [float(i) / rate for i in at[first]]


def test_one_pass_at_the_target_without_click_or_count_in(call: Call, home: Path) -> None:
    done = call("render", "iron.md", "--riff", "Low road", "--out", "a.wav", "--json")
    assert done.code == 0
    told = json.loads(done.out)
    sound, rate = _sound(home / "work" / "a.wav")
    assert rate == 48000
    assert told["seconds"] == pytest.approx(len(sound) / rate, abs=0.01)
    # Two bars of 4/4 at 168 take 8 * 60 / 168 s, and then what dies away.
    assert 8 * 60 / 168 < len(sound) / rate < 8 * 60 / 168 + 4.5
    assert 0.05 < np.abs(sound).max() < 1.0
    assert _starts(sound, rate)[0] < 0.01


def test_the_click_alone_sounds_on_the_beats(call: Call, home: Path) -> None:
    call("render", "iron.md", "--riff", "Low road", "--tempo", "120", "--only", "click", "--out", "a.flac")
    starts = _starts(*_sound(home / "work" / "a.flac"))
    assert len(starts) == 8
    assert np.diff(starts) == pytest.approx([0.5] * 7, abs=0.002)


def test_silent_bars_leave_the_player_alone(call: Call, home: Path) -> None:
    words = ["--tempo", "120", "--only", "click", "--silent-bars", "1:1", "--passes", "2", "--out", "a.wav"]
    assert call("render", "iron.md", "--riff", "Low road", *words).code == 0
    starts = _starts(*_sound(home / "work" / "a.wav"))
    assert np.floor(np.array(starts) / 2 + 0.01).tolist() == [0] * 4 + [2] * 4


def test_minus_one_is_the_whole_without_one_part(call: Call, home: Path) -> None:
    for name, words in {"all": [], "minus": ["--without", "guitar 1"], "one": ["--only", "guitar 1"]}.items():
        assert call("render", "iron.md", "--riff", "Low road", *words, "--out", f"{name}.wav").code == 0
    whole, minus, one = (_sound(home / "work" / f"{name}.wav")[0] for name in ("all", "minus", "one"))
    frames = min(map(len, (whole, minus, one)))
    assert np.abs(whole[:frames] - minus[:frames] - one[:frames]).max() < 0.02
    assert min(np.abs(minus).max(), np.abs(one).max()) > 0.02


def test_each_pass_climbs_up_to_the_target(call: Call, home: Path) -> None:
    words = ["--tempo", "50%", "--climb", "60", "--passes", "3", "--click", "none"]
    call("render", "iron.md", "--riff", "Low road", *words, "--out", "a.mid")
    tempos = [
        m.tempo for track in mido.MidiFile(home / "work" / "a.mid").tracks for m in track if m.type == "set_tempo"
    ]
    assert [round(60e6 / tempo) for tempo in tempos] == [84, 144, 168]


def test_play_counts_in_clicks_and_starts_slowly(call: Call, home: Path) -> None:
    done = call("play", "iron.md", "--riff", "Low road", "--only", "guitar 1", "--out", "a.wav")
    assert done.code == 0
    sound, rate = _sound(home / "work" / "a.wav")
    # A bar of count-in and two bars, at the start tempo.
    assert len(sound) / rate == pytest.approx(12 * 60 / 92, abs=4.5)
    starts = _starts(sound[: int(4 * 60 / 92 * rate)], rate)
    assert np.diff(starts) == pytest.approx([60 / 92] * 3, abs=0.002)


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg", "mp3"])
def test_audio_files_by_their_ending(call: Call, home: Path, ending: str) -> None:
    assert call("render", "iron.md", "--riff", "Signal fires", "--out", f"a.{ending}").code == 0
    sound, _ = _sound(home / "work" / f"a.{ending}")
    assert np.abs(sound).max() > 0.02


def test_the_form_is_played_through(call: Call, home: Path) -> None:
    call("render", "iron.md", "--out", "a.mid")
    texts = [m.text for track in mido.MidiFile(home / "work" / "a.mid").tracks for m in track if m.type == "marker"]
    assert texts == ["Low road", "Low road", "Signal fires"]


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["--out", "a.txt"], 2, "a file ending in .wav"),
        (["--out", "nowhere/a.wav"], 1, "its folder does not exist"),
        (["--out", "a.wav", "--tempo", "10000"], 2, "20 to 400 bpm"),
        (["--out", "a.wav", "--tempo", "0"], 2, "20 to 400 bpm"),
        (["--out", "a.wav", "--bars", "2-9"], 2, "bars 1 to 5"),
        (["--out", "a.wav", "--bars", "x"], 2, "--bars cannot be x"),
        (["--out", "a.wav", "--only", "guitar"], 2, 'no part "guitar"'),
        (["--out", "a.wav", "--click", "galop"], 2, 'Did you mean "gallop"'),
        (["--out", "a.wav", "--silent-bars", "2"], 2, "such as 2:1"),
        (["--out", "a.wav", "--count-in", "5"], 2, "from 0 to 4"),
        (["--out", "a.wav", "--passes", "0"], 2, "from 1 to 10000, or forever"),
        (["--out", "a.wav", "--climb", "x"], 2, "climb"),
        (["--out", "a.wav", "--pan", "guitar 1=2"], 2, "-1 to 1"),
        (["--out", "a.wav", "--bank", "none.sf2"], 1, "none.sf2"),
        (["--out", "a.wav", "--human", "x"], 2, "invalid int value"),
    ],
)
def test_what_cannot_be_rendered_is_told(call: Call, home: Path, words: list[str], code: int, message: str) -> None:
    done = call("render", "iron.md", *words)
    assert (done.code, message in done.err) == (code, True), done.err
    assert "Traceback" not in done.err
    assert sorted(path.name for path in (home / "work").iterdir()) == ["iron.md"]


def test_a_full_disk_leaves_no_file(call: Call, home: Path) -> None:
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (64 * 1024, before[1]))
        done = call("render", "iron.md", "--out", "a.wav")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, handler)
    assert done.code == 1
    assert "a.wav" in done.err
    assert sorted(path.name for path in (home / "work").iterdir()) == ["iron.md"]


def test_without_a_sound_device_the_sound_goes_to_a_file(
    call: Call, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PULSE_SERVER", "unix:/nowhere")
    (home / "config" / "twinspur").mkdir(parents=True)
    (home / "config" / "twinspur" / "config.toml").write_text('[sound]\ndriver = "pulseaudio"\n')
    done = call("play", "iron.md", "--riff", "Low road")
    assert done.code == 0
    assert "No sound device could be opened" in done.err
    assert "written to iron.wav instead" in done.err
    assert (home / "work" / "iron.wav").stat().st_size > 100_000


def test_a_human_pair_differs_the_same_way_for_one_seed(call: Call, home: Path) -> None:
    for name, words in {"a": ["--human", "7"], "b": ["--human", "7"], "c": ["--human", "8"]}.items():
        call("render", "iron.md", "--riff", "Signal fires", *words, "--out", f"{name}.wav")
    a, b, c = (_sound(home / "work" / f"{name}.wav")[0] for name in "abc")
    assert np.array_equal(a, b)
    assert len(a) != len(c) or not np.array_equal(a, c)
