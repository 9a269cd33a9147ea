"""The transport on the real synth and a real sound server, kept going by its thread."""

import time
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from tests.playback.changing import change, kept_going
from tests.playback.recording_sink import RecordingSink
from tests.playback.riffs import band, exercise, guitar, melody_bar
from tests.sound_servers import Pulse, wait_until
from trainer.places import bundled
from trainer.playback.audio_out import Device
from trainer.playback.mix import Mix
from trainer.playback.piece import Loop, Piece
from trainer.playback.plan import Plan
from trainer.playback.position import State
from trainer.playback.render import click_keys
from trainer.playback.synth_sink import SynthSink
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.load_patches import load_patches

RIG = load_patches()
MUSIC = band(4, 173)
LINE = Timeline.of(Piece.of(exercise(MUSIC), [MUSIC]), RIG)
OTHER = replace(MUSIC, parts=(MUSIC.parts[0], guitar(*[melody_bar(3, 5, 7, 5)] * 4, name="guitar 2"), *MUSIC.parts[2:]))
LINES = (LINE, Timeline.of(Piece.of(exercise(OTHER), [OTHER]), RIG))
"""The second guitar has other notes."""


def test_changes_on_a_real_device_come_in_time_and_leave_silence(pulse: Pulse) -> None:
    sink = SynthSink(bundled("patches") / "twinspur.sf2", Device("pulseaudio"), click=click_keys(LINE))
    transport = Transport(LINE, sink, Plan(Loop(0, 3), passes=None, click=RIG.click_pattern("gallop")))
    chance = Random(4)
    with kept_going(transport):
        transport.play()
        wait_until(lambda: transport.position().state is State.PLAYING, "the transport to play")
        for _ in range(12):
            mix = transport.plan.mix.without("guitar 2") if chance.random() < 0.5 else Mix()
            change(transport, share=Fraction(chance.randrange(40, 150), 100), mix=mix)
            transport.seek(chance.randrange(4))
            transport.set_timeline(chance.choice(LINES))
            time.sleep(0.03)  # so that something is playing when the next change comes
        late = sink.late
        transport.stop()
        synth = sink._out.synth  # type: ignore[union-attr]
        wait_until(lambda: synth.voices() == 0, "the last note to die away")
    assert late == 0
    assert not transport.running
    sink.close()


def test_position_is_cheap_and_never_goes_back() -> None:
    sink = RecordingSink()
    transport = Transport(LINE, sink, Plan(Loop(0, 3), passes=None))
    transport.play()
    places = []
    begun = time.perf_counter()
    for _ in range(1000):
        sink.run_to(sink.now() + 100)
        places.append(transport.position())
        if len(places) % 20 == 0:
            transport.advance()
    assert time.perf_counter() - begun < 2  # 20 a second are asked for; a thousand take some 50 ms
    assert all((a.pass_number, a.bar, a.offset) <= (b.pass_number, b.bar, b.offset) for a, b in pairwise(places))


@pytest.mark.parametrize(
    "bad",
    [
        lambda t: t.seek(9),
        lambda t: t.seek(0, Fraction(1)),
        lambda t: change(t, loop=Loop(0, 4)),
        lambda t: change(t, share=Fraction(0)),
        lambda t: change(t, passes=0),
        lambda t: change(t, count_in=5),
        lambda t: change(t, human_seed=1),
    ],
)  # type: ignore[no-untyped-call]
def test_what_makes_no_sense_is_refused_and_changes_nothing(bad) -> None:
    sink = RecordingSink()
    transport = Transport(LINE, sink, Plan(Loop(0, 3)))
    transport.play()
    plan = transport.plan
    with pytest.raises(ValueError, match=r".+"):
        bad(transport)
    assert transport.plan == plan
    assert transport.running
