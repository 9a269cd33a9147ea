"""The picture of a take."""

from xml.etree import ElementTree

from tests.listening.plucked import line, player, record
from trainer.listening.judging import judge_sound, unjudged
from trainer.listening.plot import svg

WRITTEN = line((40, 43, 45, 47, 50, 52, 50, 47) * 2, 120)


def test_every_stroke_has_a_mark_whose_shape_tells() -> None:
    notes = player(WRITTEN)
    del notes[5]
    judgement = judge_sound(record(notes, 6.5), WRITTEN)
    picture = ElementTree.fromstring(svg(judgement, "Salt Road <guitar 1>"))
    titles = [item.text or "" for item in picture.iter("{http://www.w3.org/2000/svg}title")]
    assert titles[0] == "Salt Road <guitar 1>"
    assert sum("ms" in title for title in titles) == 15
    assert [title for title in titles if "missed" in title] == ["bar 1, count 3 &: missed"]


def test_an_unjudged_take_shows_its_sentence() -> None:
    picture = svg(unjudged("No signal & silence."), "Salt Road")
    assert "No signal &amp; silence." in picture
    ElementTree.fromstring(picture)
