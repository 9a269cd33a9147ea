"""The player's config.toml: everything it may hold is used, and what is wrong is told with its place."""

from pathlib import Path

import pytest

from tests.screens.music import RIG, machine
from trainer.arranging.abilities import OWN, TRAINED, own_abilities
from trainer.music.problem import ProblemsError
from trainer.practice.ladder_rules import ClimbStyle, Rise
from trainer.session.music import LoadedExercise
from trainer.settings import HANDS_KEYS, Settings, load_settings, read_settings

KEPT = Path(__file__).parent / "kept_0_1_0" / "config" / "twinspur" / "config.toml"


def written(folder: Path, text: str) -> Path:
    path = folder / "config.toml"
    path.write_text(text, "utf-8")
    return path


def test_no_file_gives_the_defaults(tmp_path: Path) -> None:
    assert load_settings(tmp_path / "none.toml") == Settings()


def test_the_players_ladder_stands_under_the_exercises_own(tmp_path: Path) -> None:
    settings = load_settings(written(tmp_path, '[ladder]\nstep = "6%"\npasses = 2\nstyle = "bursts"\nbeyond = 8\n'))
    around = machine(tmp_path)
    exercise = around.exercises.read(around.exercises.find("salt-road"))
    plain = LoadedExercise.of(exercise, "Low gate", RIG)
    rules = LoadedExercise.of(exercise, "Low gate", RIG, settings.ladder).rules
    assert (rules.style, rules.beyond) == (ClimbStyle.BURSTS, 8.0)
    assert rules.step == (plain.rules.step if exercise.ladder.step else Rise(6.0))
    assert rules.passes == (exercise.ladder.passes or 2)
    assert rules != plain.rules


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[ladder]\npases = 2\n", 'config.toml:2:1: "pases" is not a key of [ladder]'),
        ("[ladder]\npases = 2\n", 'Did you mean "passes"'),
        ("\n[ladder]\nstep = 3\npasses = 99\n", 'config.toml:4:1: "passes" cannot be 99'),
        ("[ladder]\npasses = 99\n", "a whole number from 1 to 20"),
        ('[screens]\ntheme = "x"\n', '"screens" is not a key of the settings'),
        ("[lader]\nstep = 3\n", 'Did you mean "ladder"'),
        ("[sound]\nrte = 44100\n", 'config.toml:2:1: "rte" is not a key of [sound]'),
        ("[sound]\nrate = 1\n", "22050 to 96000"),
        ("ladder = 3\n", "must be a table"),
        ("[hands]\nstroks = 3\n", 'Did you mean "strokes"'),
        ("[hands]\nstrokes = 0\n", "1 to 100"),
        (f"[sound]\nrate = {'9' * 5000}\n", "config.toml:2"),
    ],
    ids=range(12),
)
def test_what_is_wrong_is_told_with_its_place_and_the_nearest_right_word(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(ProblemsError) as caught:
        load_settings(written(tmp_path, text))
    assert told in str(caught.value.problems[0])


def test_what_is_understood_is_used_though_something_else_is_wrong(tmp_path: Path) -> None:
    path = written(tmp_path, '[sound]\ndriver = "jack"\n[screens]\nsize = 3\n[ladder]\npasses = 2\nmiss = "x"\n')
    settings, problems = read_settings(path)
    assert (settings.driver, settings.ladder, len(problems)) == ("jack", {"passes": 2}, 2)


def test_what_0_1_0_took_is_taken_without_loss() -> None:
    settings, problems = read_settings(KEPT)
    assert settings.folders == (KEPT.parent / "riffs", Path("~/more riffs").expanduser(), Path("/srv/riffs"))
    assert settings.bank == KEPT.parent / "banks" / "mine.sf2"
    assert (settings.driver, settings.period, settings.periods, settings.rate) == ("pulseaudio", 1024, 4, 44100)
    assert (settings.gain, settings.device, settings.output, settings.keep_mib) == (1, "USB Audio", "Headphones", 500)
    assert (settings.bands.noticed_ms, settings.bands.good_ms, settings.bands.stray_share) == (5, 18.5, 0.25)
    assert settings.ladder == {"step": Rise(3.0), "passes": 2}
    assert [problem.what for problem in problems] == ['"screens" is not a key of the settings']


def test_the_limits_of_the_players_hands_stand_in_place_of_the_house_rules(tmp_path: Path) -> None:
    settings = load_settings(written(tmp_path, "[hands]\nstrokes = 11\nstring_changes = 6.5\n"))
    found = own_abilities(settings.hands)
    assert (found.swings_per_s, found.crossings_per_s, found.notes_per_s) == (11.0, 6.5, TRAINED.notes_per_s)
    assert set(OWN) == set(HANDS_KEYS)
