"""The verdict's two lines, drawn without a terminal."""

import pytest

from trainer.playback.piece import Loop
from trainer.screens.drawing.pen import BOX
from trainer.screens.drawing.verdict_rows import ALL, FOLLOW, two_lines
from trainer.session.actions import SetClick, SetLoop, SetTempo
from trainer.session.proposal import Proposal

HEAD = ("pass 3: ✗ not clean", "bar 2: gallop flat (1.5, want 2.0)", "2 more")
BELOW = "enter: loop bar 2, 99 bpm, gallop click"


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_how_it_was_what_to_do_and_where_the_rest_is_are_never_cut_off(width: int) -> None:
    panel = two_lines(HEAD, BELOW, BOX, width, 2, follows=True, rest=True)
    first, second = (row.text for row in panel.rows)
    assert len(first) == len(second) == width
    assert first.startswith(" pass 3: ✗ not clean")
    assert second.startswith(" enter: loop bar 2, 99 bpm") and second.rstrip().endswith(ALL)
    assert [zone.call for zone in panel.zones] == [FOLLOW]


def test_a_line_that_is_too_short_leaves_out_how_many_more_there_are_before_it_cuts_a_fault() -> None:
    narrow, wide = (two_lines(HEAD, "", BOX, width, 1, follows=False, rest=True).rows[0].text for width in (68, 80))
    assert "want 2.0)" in narrow and "2 more" not in narrow and "…" not in narrow
    assert "want 2.0) · 2 more" in wide


def test_in_one_line_stands_how_it_was_and_where_the_rest_is() -> None:
    (row,) = two_lines(HEAD, BELOW, BOX, 60, 1, follows=True, rest=True).rows
    assert row.text.startswith(" pass 3: ✗ not clean") and row.text.rstrip().endswith(ALL)
    assert "enter" not in row.text


def test_a_proposal_sets_the_loop_first_because_a_loop_brings_its_own_tempo() -> None:
    proposal = Proposal(Loop(1, 2), SetTempo(99).bpm, "gallop")
    assert proposal.words == "loop bars 2-3, 99 bpm, gallop click"
    assert proposal.actions == (SetLoop(Loop(1, 2)), SetTempo(99), SetClick("gallop"))
    assert Proposal(Loop(1, 1), SetTempo(99).bpm).words == "loop bar 2, 99 bpm"
    assert Proposal(None, SetTempo(104).bpm).words == "the same at 104 bpm"
