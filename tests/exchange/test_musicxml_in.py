"""MusicXML in: our own comes back as it was, others' is understood, and what is lost is told with its place."""

import zipfile
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.exchange.heard import heard
from tests.exchange.mutants import elements_lost, mutants
from tests.musical import exercises
from trainer.arranging.realise import realise_exercise
from trainer.exchange.any_score import read_score, with_parts
from trainer.exchange.assemble import Assembled, assemble
from trainer.exchange.musicxml_out import musicxml
from trainer.exchange.xml_tree import MOST_DEPTH
from trainer.music.exercise import Exercise, FormStep
from trainer.music.note import Attack, Touch
from trainer.music.part import DrumPart, TabPart
from trainer.music.problem import ProblemsError
from trainer.music.sounding import sounding
from trainer.notation.files import read_file
from trainer.notation.read import read
from trainer.notation.write import write
from trainer.places import bundled

BUNDLED = sorted(path for path in bundled("exercises").glob("*.md") if path.name != "README.md")
DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 3.1 '
    'Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def brought(text: str | bytes) -> Assembled:
    data = text if isinstance(text, bytes) else text.encode()
    return assemble(with_parts(read_score(data, "score.musicxml"), (), "score.musicxml"))


def written_again(exercise: Exercise) -> Exercise:
    return read(write(exercise), "again.md")


def score(*measures: str, head: str = "<part-name>Guitar</part-name>", tab: str = "") -> str:
    """A score of one part; divisions are 4 in a quarter."""
    bars = [
        f'<measure number="{number}">{_first(tab) if number == 1 else ""}{measure}</measure>'
        for number, measure in enumerate(measures, 1)
    ]
    return (
        f'{DOCTYPE}<score-partwise version="3.1"><part-list><score-part id="P1">{head}</score-part></part-list>'
        f'<part id="P1">{"".join(bars)}</part></score-partwise>'
    )


def _first(tab: str) -> str:
    time = "<time><beats>4</beats><beat-type>4</beat-type></time>"
    return f"<attributes><divisions>4</divisions><key><fifths>1</fifths></key>{time}{tab}</attributes>"


def note(name: str, length: int, marks: str = "", extra: str = "") -> str:
    """A note such as E3 of so many sixteenths."""
    step, octave = name[:-1], name[-1]
    alter = "<alter>1</alter>" if "#" in step else ""
    return (
        f"<note>{extra}<pitch><step>{step[0]}</step>{alter}<octave>{octave}</octave></pitch><duration>{length}"
        f"</duration>{'<notations>' + marks + '</notations>' if marks else ''}</note>"
    )


def rest(length: int) -> str:
    return f"<note><rest/><duration>{length}</duration></note>"


def only_part(exercise: Exercise) -> TabPart:
    (part,) = exercise.riffs[0].tabs
    return part


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_a_bundled_exercise_comes_back_as_it_was(path: Path) -> None:
    exercise = realise_exercise(read_file(path))
    made = brought(musicxml(exercise))
    again = written_again(made.exercise)
    assert heard(again) == heard(exercise)
    assert (again.id, again.form, again.tags, again.title) == (
        exercise.id,
        exercise.form,
        exercise.tags,
        exercise.title,
    )
    assert made.changes == ()


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(exercises())
def test_any_music_comes_back_as_it_was(exercise: Exercise) -> None:
    try:
        exercise = realise_exercise(exercise)
    except ProblemsError:
        return
    if any(riff.tabs or riff.drums for riff in exercise.riffs):
        text = musicxml(exercise)
        if "<pitch>" in text or "<unpitched>" in text:
            assert heard(written_again(brought(text).exercise)) == heard(exercise)


def test_repeats_and_endings_are_written_out() -> None:
    forward = '<barline location="left"><repeat direction="forward"/></barline>'
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    first_end = '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>'
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    text = score(forward + note("E3", 16), first + note("F#3", 16) + first_end, second + note("G3", 16), note("A3", 16))
    made = brought(text)
    part = only_part(made.exercise)
    keys = [sound.midi for sound in sounding(part, made.exercise.riffs[0].bar_starts)]
    assert keys == [52, 54, 52, 55, 57]


def test_a_section_that_comes_again_goes_into_the_form() -> None:
    mark = "<direction><direction-type><rehearsal>{}</rehearsal></direction-type></direction>"
    text = score(
        mark.format("Verse") + note("E3", 16),
        mark.format("Bridge") + note("A3", 16),
        mark.format("Verse") + note("E3", 16),
    )
    exercise = brought(text).exercise
    assert [riff.name for riff in exercise.riffs] == ["Verse", "Bridge"]
    assert exercise.form == (FormStep("Verse"), FormStep("Bridge"), FormStep("Verse"))


def test_a_tied_note_is_one_note() -> None:
    text = score(
        rest(8) + note("E3", 8, extra='<tie type="start"/>'), note("E3", 4, extra='<tie type="stop"/>') + rest(12)
    )
    exercise = brought(text).exercise
    (sound,) = sounding(only_part(exercise), exercise.riffs[0].bar_starts)
    assert (sound.at, sound.end) == (Fraction(1, 2), Fraction(5, 4))


def test_strings_and_techniques_of_a_tablature_staff_are_kept_and_the_notation_is_its_double() -> None:
    tuning = '<staves>2</staves><clef number="1"><sign>G</sign></clef><clef number="2"><sign>TAB</sign></clef>'
    tuning += (
        '<staff-details number="2"><staff-lines>6</staff-lines>'
        + "".join(
            f'<staff-tuning line="{line}"><tuning-step>{name[0]}</tuning-step>'
            f"<tuning-octave>{name[1]}</tuning-octave></staff-tuning>"
            for line, name in enumerate(("D2", "A2", "D3", "G3", "B3", "E4"), 1)
        )
        + "</staff-details>"
    )

    def on(name: str, fret: int, string: int, marks: str = "") -> str:
        technical = f"<technical><string>{string}</string><fret>{fret}</fret>{marks}</technical>"
        return note(name, 4, technical).replace("</duration>", "</duration><staff>2</staff>")

    plain = "".join(note(name, 4) for name in ("D2", "E2", "C3", "D4"))
    tab = (
        on("D2", 0, 6) + on("E2", 2, 6, '<hammer-on type="stop"/>') + on("C3", 3, 5)
        + on("D4", 3, 2, "<bend><bend-alter>2</bend-alter></bend>")
    )  # fmt: skip
    made = brought(score(f"{plain}<backup><duration>16</duration></backup>{tab}", tab=tuning))
    part = only_part(made.exercise)
    notes = [moment.notes[0] for moment in part.bars[0]]
    assert [(each.string, each.fret) for each in notes] == [(6, 0), (6, 2), (5, 3), (2, 3)]
    assert notes[1].attack is Attack.HAMMER
    assert notes[3].bend == 5
    assert str(part.instrument.tuning[0]) == "D2"


def test_notes_without_places_are_put_on_the_neck_at_their_pitches() -> None:
    names = ("E3", "G3", "A3", "B3", "D4", "E4", "G4", "E5")
    exercise = brought(score("".join(note(name, 2) for name in names))).exercise
    keys = [sound.midi for sound in sounding(only_part(exercise), exercise.riffs[0].bar_starts)]
    assert keys == [52, 55, 57, 59, 62, 64, 67, 76]


def test_a_transposing_part_is_read_as_it_sounds() -> None:
    text = score(
        "<attributes><transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>"
        + note("E4", 16)
    )
    exercise = brought(text).exercise
    (sound,) = sounding(only_part(exercise), exercise.riffs[0].bar_starts)
    assert sound.midi == 52


def test_triplets_beside_sixteenths_keep_their_places() -> None:
    text = score(
        "<attributes><divisions>12</divisions></attributes>" + note("E3", 4) * 3 + note("G3", 3) * 4 + note("A3", 24)
    )
    exercise = brought(text).exercise
    offsets = [moment.offset for moment in only_part(exercise).bars[0]]
    assert offsets[:4] == [0, Fraction(1, 12), Fraction(1, 6), Fraction(1, 4)]
    assert offsets[4] == Fraction(5, 16)


def test_a_dead_note_and_a_palm_mute_are_understood() -> None:
    muted = note("E3", 8).replace("</note>", "<play><mute>palm</mute></play></note>")
    dead = note("E3", 8).replace("</duration>", "</duration><notehead>x</notehead>")
    part = only_part(brought(score(muted + dead)).exercise)
    assert part.bars[0][0].mute
    assert part.bars[0][1].notes[0].touch is Touch.DEAD


def test_percussion_becomes_the_kit() -> None:
    def hit(step: str, octave: int, head: str = "normal") -> str:
        return (
            f"<note><unpitched><display-step>{step}</display-step><display-octave>{octave}</display-octave></unpitched>"
            f"<duration>8</duration><notehead>{head}</notehead></note>"
        )

    exercise = brought(score(hit("F", 4) + hit("C", 5), head="<part-name>Drumset</part-name>")).exercise
    (part,) = exercise.riffs[0].parts
    assert isinstance(part, DrumPart)
    assert [moment.hits[0].piece for moment in part.bars[0]] == ["kick", "snare"]


def test_what_is_left_out_is_told_with_its_place() -> None:
    grace = "<note><grace/><pitch><step>D</step><octave>3</octave></pitch></note>"
    made = brought(score(note("E3", 16), note("E3", 8) + grace + note("G3", 8)))
    assert [str(change) for change in made.changes] == ["Guitar, bar 2, beat 3: a grace note is left out."]


def test_notes_that_end_before_others_in_a_chord_are_told() -> None:
    held = note("E3", 16) + "<backup><duration>16</duration></backup>" + note("B3", 4) + note("D4", 4) + note("B3", 8)
    made = brought(score(held))
    assert any("longer than the score says" in str(change) for change in made.changes)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('<!DOCTYPE a [<!ENTITY b "c">]><score-partwise>&b;</score-partwise>', "declares entities"),
        (
            '<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><score-partwise>&b;</score-partwise>',
            "declares entities",
        ),
        ('<!DOCTYPE a [<!ENTITY % b SYSTEM "http://localhost/x">%b;]><score-partwise/>', "declares entities"),
        ("<score-partwise>" + "<a>" * (MOST_DEPTH + 1), "too deep"),
        ("<score-partwise><part></score-partwise>", "not well-formed"),
        ("<html/>", "its root is <html>"),
        ("<score-partwise/>", "no measures"),
        ("E|--0--2--|\n" * 6, "read-tab"),
        ("", "no score"),
    ],
)
def test_what_is_no_score_or_is_unsafe_is_refused_in_a_sentence(text: str, told: str) -> None:
    with pytest.raises(ProblemsError, match=told):
        brought(text)


def test_a_compressed_score_that_is_a_bomb_is_refused() -> None:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.musicxml", b" " * 20_000_000)
    with pytest.raises(ProblemsError, match="far larger inside"):
        brought(packed.getvalue())


def test_a_compressed_score_reads_only_what_its_container_names() -> None:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="../../etc/passwd"/><rootfile full-path="in/a.xml"/>'
            "</rootfiles></container>",
        )
        archive.writestr("in/a.xml", score(note("E3", 16)))
    assert brought(packed.getvalue()).exercise.riffs[0].tabs


def test_damaged_scores_become_an_exercise_or_a_sentence() -> None:
    text = musicxml(realise_exercise(read_file(bundled("exercises") / "bell-glass.md")))
    short = text[: text.index('<part id="P2">')] + "</score-partwise>"
    damaged = [*mutants(short.encode(), 50, seed=1), *(each.encode() for each in elements_lost(short, 50, seed=2))]
    made = 0
    for data in damaged:
        try:
            written_again(brought(data).exercise)
            made += 1
        except ProblemsError as error:
            assert all(problem.file for problem in error.problems)
    assert 30 <= made < 100
