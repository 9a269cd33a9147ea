"""Patches, kits and click patterns: the bundled ones, and what a player's own files may say."""

from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.sounds.ordinary_user import ordinary_user
from trainer.music.note import Attack
from trainer.music.problem import Problem, ProblemsError
from trainer.places import bundled
from trainer.sounds.articulation import Articulation
from trainer.sounds.click_pattern import Follows
from trainer.sounds.dynamics import Weight, velocity
from trainer.sounds.kit import KIT_PIECES
from trainer.sounds.load_patches import FILE_LIMIT, load_patches
from trainer.sounds.patch import PERCUSSION_BANK, Preset, Role
from trainer.sounds.patch_file import read_patch_file
from trainer.sounds.rig import Rig

RIG = load_patches([bundled("patches")])


def own(folder: Path, text: str, name: str = "mine.toml") -> Rig:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")
    return load_patches([bundled("patches"), folder])


def problems(folder: Path, text: str) -> list[Problem]:
    with pytest.raises(ProblemsError) as caught:
        own(folder, text)
    return list(caught.value.problems)


def test_there_is_a_patch_for_every_role_on_both_sides() -> None:
    for kind in ("lead", "rhythm", "clean", "muted"):
        left, right = RIG.patch(f"{kind} left"), RIG.patch(f"{kind} right")
        assert left.pan < 0 < right.pan
        assert left.presets != right.presets
    assert {"picked bass", "fingered bass", "drums", "click"} <= set(RIG.patch_names)


@pytest.mark.parametrize(
    ("part", "patch"),
    [
        ("guitar 1", "lead left"),
        ("guitar 2", "lead right"),
        ("guitar 3", "rhythm left"),
        ("guitar 4", "rhythm right"),
        ("guitar 12", "rhythm right"),
        ("bass", "picked bass"),
        ("bass 2", "picked bass"),
        ("drums", "drums"),
        ("click", "click"),
        ("third voice", "rhythm left"),
    ],
)
def test_a_part_without_a_patch_gets_the_usual_one(part: str, patch: str) -> None:
    assert RIG.for_part(part).name == patch


def test_only_general_midi_programs_are_asked_for() -> None:
    programs = {preset.program for patch in RIG.patches for preset in patch.presets if not preset.percussion}
    assert programs <= {27, 28, 29, 30, 31, 33, 34}


def test_palm_mutes_dead_notes_and_harmonics_have_sounds_of_their_own() -> None:
    patch = RIG.patch("lead left")
    assert patch.preset(Articulation.OPEN).program == 30
    assert patch.preset(Articulation.PALM_MUTED).program == 28
    assert patch.preset(Articulation.HARMONIC).program == 31
    assert patch.preset(Articulation.DEAD).velocity < 0


def test_an_articulation_a_patch_lacks_sounds_open() -> None:
    patch = RIG.patch("picked bass")
    assert patch.preset(Articulation.HARMONIC) == patch.preset(Articulation.OPEN)


def test_a_variation_falls_back_to_its_general_midi_program() -> None:
    assert Preset(1, 28, velocity=-9).plain == Preset(0, 28, velocity=-9)
    assert Preset(PERCUSSION_BANK, 0).plain == Preset(PERCUSSION_BANK, 0)


def test_every_kit_piece_has_a_key_of_the_percussion_map() -> None:
    kit = RIG.patch("drums").kit
    assert kit is not None
    keys = {piece: kit.key(piece)[0] for piece in KIT_PIECES}
    assert keys["kick"] == 36 and keys["snare"] == 38 and keys["hat"] == 42 and keys["open"] == 46
    assert keys["ride"] == 51 and keys["bell"] == 53 and keys["crash"] == 49
    assert keys["tom 1"] > keys["tom 2"] > keys["tom 3"] > keys["tom 4"]
    assert all(35 <= key <= 81 for key in keys.values())


def test_accent_plain_and_ghost_are_told_apart_on_every_piece() -> None:
    kit = RIG.patch("drums").kit
    assert kit is not None
    for piece in KIT_PIECES:
        ghost, plain, accent, strong = (
            kit.key(piece, weight)[1] for weight in (Weight.GHOST, Weight.PLAIN, Weight.ACCENT, Weight.STRONG)
        )
        assert ghost < plain < accent < strong


def test_the_clicks_accent_has_a_key_of_its_own() -> None:
    kit = RIG.patch("click").kit
    assert kit is not None
    assert kit.key("click", Weight.ACCENT)[0] != kit.key("click", Weight.PLAIN)[0]
    assert kit.key("click", Weight.STRONG)[0] == kit.key("click", Weight.ACCENT)[0]
    assert kit.key("click", Weight.GHOST)[0] == kit.key("click", Weight.PLAIN)[0]


@pytest.mark.parametrize(
    ("name", "times"),
    [
        ("beats", "0"),
        ("eighths", "0 1/2"),
        ("sixteenths", "0 1/4 1/2 3/4"),
        ("triplets", "0 1/3 2/3"),
        ("gallop", "0 1/2 3/4"),
        ("reverse gallop", "0 1/4 1/2"),
        ("triplet gallop", "0 2/3 5/6"),
        ("off-beats", "1/2"),
    ],
)
def test_a_click_pattern_sounds_on_its_counts_in_every_pulse(name: str, times: str) -> None:
    strokes = RIG.click_pattern(name).in_bar(Fraction(4))
    expected = [pulse + Fraction(at) for pulse in range(4) for at in times.split()]
    assert [stroke.at for stroke in strokes] == expected


def test_the_first_count_of_a_bar_is_accented_and_no_other() -> None:
    weights = [stroke.weight for stroke in RIG.click_pattern("gallop").in_bar(Fraction(2))]
    assert weights == [Weight.ACCENT, Weight.GHOST, Weight.GHOST, Weight.PLAIN, Weight.GHOST, Weight.GHOST]
    assert Weight.ACCENT not in [stroke.weight for stroke in RIG.click_pattern("off-beats").in_bar(Fraction(4))]


def test_a_pattern_stops_at_the_end_of_a_bar_that_is_no_whole_number_of_pulses() -> None:
    assert [stroke.at for stroke in RIG.click_pattern("gallop").in_bar(Fraction(3, 2))] == [
        0, Fraction(1, 2), Fraction(3, 4), 1,
    ]  # fmt: skip


@given(st.sampled_from(RIG.click_patterns), st.fractions(Fraction(1, 8), 16, max_denominator=16))
def test_strokes_rise_and_stay_inside_the_bar(pattern: object, pulses: Fraction) -> None:
    times = [stroke.at for stroke in pattern.in_bar(pulses)]  # type: ignore[attr-defined]
    assert times == sorted(set(times))
    assert all(0 <= at < pulses for at in times)


def test_the_riffs_own_accents_are_left_to_the_riff() -> None:
    pattern = RIG.click_pattern("accents")
    assert pattern.follows is Follows.ACCENTS
    assert pattern.in_bar(Fraction(4)) == ()


def test_every_bundled_patch_and_pattern_says_what_it_is_for() -> None:
    assert all(patch.about for patch in RIG.patches)
    assert all(pattern.about for pattern in RIG.click_patterns)


@given(st.sampled_from(Attack), st.sampled_from(Weight), st.integers(-200, 200))
def test_a_velocity_is_always_one_a_note_on_may_have(attack: Attack, weight: Weight, change: int) -> None:
    assert 1 <= velocity(attack, weight, change) <= 127


def test_a_hammered_note_is_softer_than_a_picked_one_and_an_accent_louder() -> None:
    assert velocity(Attack.HAMMER) < velocity() < velocity(weight=Weight.ACCENT) < velocity(weight=Weight.STRONG)


def test_a_player_adds_a_patch_of_their_own(tmp_path: Path) -> None:
    rig = own(tmp_path, '[patch."my lead"]\nlike = "lead left"\npan = 0.1\nsounds.harmonic = { program = 27 }\n')
    mine, base = rig.patch("my lead"), rig.patch("lead left")
    assert mine.pan == 0.1 and mine.role is Role.GUITAR
    assert mine.preset(Articulation.OPEN) == base.preset(Articulation.OPEN)
    assert mine.preset(Articulation.HARMONIC) == Preset(0, 27)


def test_a_player_replaces_a_bundled_patch_and_a_default(tmp_path: Path) -> None:
    rig = own(tmp_path, '[patch.drums]\nlike = "drums"\nlevel = -4\n[parts]\nbass = "fingered bass"\n')
    assert rig.patch("drums").level_db == -4.0
    assert rig.patch("drums").kit == RIG.patch("drums").kit
    assert rig.for_part("bass").name == "fingered bass"
    assert rig.patch_names.count("drums") == 1


def test_a_player_adds_a_click_pattern(tmp_path: Path) -> None:
    rig = own(tmp_path, '[click.clave]\nlength = "4"\nstrokes = ["0", "3/4", "3/2"]\naccents = ["5/2", "3"]\n')
    strokes = rig.click_pattern("clave").in_bar(Fraction(4))
    assert [stroke.at for stroke in strokes] == [0, Fraction(3, 4), Fraction(3, 2), Fraction(5, 2), 3]
    assert strokes[3].weight is Weight.ACCENT


def test_a_pattern_may_leave_the_first_count_plain(tmp_path: Path) -> None:
    rig = own(tmp_path, '[click.flat]\nstrokes = ["0"]\naccent_first = false\n')
    assert {stroke.weight for stroke in rig.click_pattern("flat").in_bar(Fraction(4))} == {Weight.PLAIN}


def test_a_piece_may_have_other_keys_for_accents_and_ghosts(tmp_path: Path) -> None:
    rig = own(tmp_path, '[patch.rim]\nlike = "drums"\nkit.snare = { key = 38, accent = 40, ghost = 37 }\n')
    kit = rig.patch("rim").kit
    assert kit is not None
    assert [kit.key("snare", weight)[0] for weight in Weight] == [40, 40, 38, 37]


def test_no_folder_of_ones_own_is_no_error(tmp_path: Path) -> None:
    assert load_patches([bundled("patches"), tmp_path / "none"]) == RIG


WRONG = [
    (f'[patch.a]\nrole = "guitar"\nlevel = {"9" * 5000}', 3, 9, "too long to be read", "", ""),
    ('[patch.a]\nrole = "guitarr"\nsounds.open.program = 30', 2, 1, "guitarr", "guitar, bass", "guitar"),
    ('[patch.a]\nrole = "guitar"\nlevle = 3\nsounds.open.program = 30', 3, 1, "levle", "level", "level"),
    ('[patch.a]\nrole = "guitar"\nlevel = 300\nsounds.open.program = 30', 3, 1, "300", "-60 to 12", ""),
    ('[patch.a]\nrole = "guitar"\nlevel = nan\nsounds.open.program = 30', 3, 1, "nan", "-60 to 12", ""),
    ('[patch.a]\nrole = "guitar"\npan = "left"\nsounds.open.program = 30', 3, 1, "left", "-1 to 1", ""),
    ('[patch.a]\nrole = "guitar"\nsounds.open = { program = 128 }', 3, 17, "128", "0 to 127", ""),
    ('[patch.a]\nrole = "guitar"\nsounds.open = { programm = 12 }', 3, 17, "programm", "program", "program"),
    ('[patch.a]\nrole = "guitar"\nsounds.open = { bank = 1 }', 3, 1, '"program" is missing', "0 to 127", ""),
    ('[patch.a]\nrole = "guitar"\nsounds.open.program = true', 3, 1, "True", "0 to 127", ""),
    (
        '[patch.a]\nrole = "guitar"\n[patch.a.sounds]\nharmonics = { program = 1 }',
        4,
        1,
        "harmonics",
        "dead",
        "harmonic",
    ),
    ('[patch.a]\nlike = "led left"', 2, 1, "led left", "lead left", "lead left"),
    ('[patch.a]\nlike = "a"', 2, 1, 'unknown patch "a"', "lead left", ""),
    ("[patch.a]\nlevel = 1\nsounds.open.program = 30", 1, 2, "no role", "guitar", ""),
    ('[patch.a]\nrole = "bass"', 1, 2, "no open sound", "", "open ="),
    ('[patch.a]\nrole = "bass"\nsounds.open.program = 33\nkit.kick = 3', 4, 1, 'no "kit"', "drums", ""),
    ('[patch.a]\nlike = "drums"\nkit.kik = 3', 3, 1, "kik", "kick", "kick"),
    ('[patch.a]\nlike = "drums"\nkit.kick = 200', 3, 1, "200", "0 to 127", ""),
    ('[patch.a]\nlike = "drums"\nstrokes.ghost = 0', 3, 1, "0", "1 to 127", ""),
    (
        '[patch.a]\nrole = "click"\nsounds.open = { bank = 128, program = 0 }',
        1,
        2,
        'no key for "click"',
        "0 to 127",
        "",
    ),
    ("patch = 3", 1, 1, "table", "key = value", ""),
    ("[pacht.a]\nlevel = 1", 1, 2, "pacht", "patch, click, parts", "patch"),
    ('[click.a]\nstrokes = ["1/0"]', 2, 1, "1/0", "fraction", ""),
    ('[click.a]\nstrokes = ["1e9"]', 2, 1, "1e9", "fraction", ""),
    ("[click.a]\nstrokes = [0.5]", 2, 1, "0.5", "fraction", ""),
    ('[click.a]\nstrokes = ["5/4"]', 2, 1, "5/4", '"1"', ""),
    ('[click.a]\nlength = "0"\nstrokes = ["0"]', 2, 1, "no length", "over 0", ""),
    ("[click.a]\nlength = '1'", 1, 2, "no strokes", "strokes", ""),
    ('[click.a]\nfollows = "accent"', 2, 1, "accent", "accents", "accents"),
    ('[parts]\nbass = "pickd bass"', 2, 1, "pickd bass", "picked bass", "picked bass"),
    ("[parts]\nbass = 3", 2, 1, "3", "one line", ""),
    ("[patch.a\nrole = 3", 1, 9, "not TOML", "", ""),
    ("a = [\n", 1, 0, "not TOML", "", ""),
    ('[patch."a\\u001b[2J"]\nrole = "guitar"', 1, 2, "\\x1b", "printable", ""),
]


@pytest.mark.parametrize(("text", "line", "column", "what", "allowed", "hint"), WRONG)
def test_a_mistake_is_told_with_its_place(
    tmp_path: Path, text: str, line: int, column: int, what: str, allowed: str, hint: str
) -> None:
    found = problems(tmp_path, text)
    assert any(what in each.what and allowed in each.allowed and hint in each.hint for each in found), found
    match = next(each for each in found if what in each.what)
    assert (match.line, match.column) == (line, column)
    assert match.file.endswith("mine.toml")
    assert str(match).isprintable()


def test_all_mistakes_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "one.toml").write_text('[patch.a]\nrole = "guitar"\n')
    found = problems(tmp_path, '[patch.b]\nrole = "basss"\npan = 4\n[click.c]\n')
    assert {Path(each.file).name for each in found} == {"one.toml", "mine.toml"}
    assert len(found) >= 4


def test_one_name_in_two_files_of_a_folder_is_a_mistake(tmp_path: Path) -> None:
    (tmp_path / "also.toml").write_text('[patch.a]\nlike = "drums"\n')
    (found,) = problems(tmp_path, '[patch.a]\nlike = "click"\n')
    assert "already in also.toml" in found.what


def test_files_that_cannot_be_read_are_told(tmp_path: Path) -> None:
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "latin.toml").write_bytes(b"[patch.a]\nabout = '\xe9'\n")
    (tmp_path / "large.toml").write_bytes(b"#" * (FILE_LIMIT + 1))
    (tmp_path / "gone.toml").symlink_to(tmp_path / "nowhere")
    told = {Path(each.file).name: each for each in problems(tmp_path, "")}
    assert "folder" in told["folder.toml"].what
    assert told["latin.toml"].line == 2 and "UTF-8" in told["latin.toml"].what
    assert "too large" in told["large.toml"].what
    assert "no such file" in told["gone.toml"].what


def test_a_file_without_permission_is_told() -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "closed.toml"
        path.write_text("")
        path.chmod(0)
        path.parent.chmod(0o755)
        with ordinary_user(), pytest.raises(ProblemsError, match=r"closed\.toml: .* cannot be read: permission denied"):
            load_patches([path.parent])


def test_asking_for_what_is_not_there_names_the_nearest() -> None:
    with pytest.raises(ProblemsError, match=r'no patch "lead lift".*Did you mean "lead left"'):
        RIG.patch("lead lift")
    with pytest.raises(ProblemsError, match=r'no click pattern "galop".*Did you mean "gallop"'):
        RIG.click_pattern("galop")
    with pytest.raises(ProblemsError) as caught:
        RIG.patch("\x1b]0;x\x07")
    assert str(caught.value).isprintable()


def test_a_rig_without_defaults_says_what_to_write() -> None:
    with pytest.raises(ProblemsError, match=r'under \[parts\]: "bass" = '):
        load_patches([]).for_part("bass")


@given(st.sampled_from(sorted(bundled("patches").glob("*.toml"))), st.data())
def test_any_changed_character_of_a_bundled_file_gives_patches_or_located_problems(
    path: Path, data: st.DataObject
) -> None:
    text = path.read_text(encoding="utf-8")
    at = data.draw(st.integers(0, len(text) - 1))
    changed = text[:at] + data.draw(st.characters(codec="utf-8")) + text[at + 1 :]
    known = {patch.name: patch for patch in RIG.patches}
    for problem in read_patch_file("mine.toml", changed, known).problems.found:
        assert problem.line > 0
        assert str(problem).isprintable()


def test_deep_nesting_is_told_and_not_fatal() -> None:
    found = read_patch_file("deep.toml", "a = " + "[" * 5000 + "]" * 5000, {}).problems.found
    assert found
