"""From a material without a recipe to one that was tested, as a user does it."""

from __future__ import annotations

import datetime
import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest

from kerfwright.shop.files import load_machine, load_material
from kerfwright.shop.material import RecipeStatus
from small_shop import MACHINE, Ran, run

NEW = """\
# Bought in spring.
name = "poplar"
thickness_mm = 4  # measured
cautions = ["Resin may flare up."]
"""
SCORED = """
[[recipes]]
machine = "trial machine"
process = "score"
speed_mm_s = 100
power = 0.13
"""

POWER = ("--powers", 0.3, 0.9, 4, "--speeds", 5, 40, 6)
KERF = ("--speed", 11.5, "--power", 0.7)
GREY = ("--speed", 100, "--power", 0.4)


class Trial:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.machine = folder / "machine.toml"
        self.material = folder / "poplar.toml"
        self.new = folder / "new.toml"
        self.machine.write_text(MACHINE, encoding="utf-8")
        self.material.write_text(NEW + SCORED, encoding="utf-8")

    def calibrate(self, kind: str, *words: object) -> Ran:
        files = ("--machine", self.machine, "--material", self.material)
        return run("calibrate", kind, *files, *words)

    def make(self, kind: str, *words: object) -> Path:
        ran = self.calibrate(kind, *words, "--out", self.folder / kind)
        assert ran.exit_code == 0, ran.stderr
        assert "read back and proven" in ran.stdout
        return self.folder / kind / "readings.toml"

    def fill(self, kind: str, change: Callable[[str], str]) -> Path:
        path = self.folder / kind / "readings.toml"
        path.write_text(change(path.read_text("utf-8")), encoding="utf-8")
        return path


@pytest.fixture
def trial(tmp_path: Path) -> Trial:
    return Trial(tmp_path)


def dated(text: str) -> str:
    return text.replace("# tested_on", "tested_on").replace('# tested_by = "…"', 'tested_by = "Ea"')


def by_number(key: str, value: Callable[[int], float]) -> Callable[[str], str]:
    """Fills in a reading for every numbered block."""

    def filled(text: str) -> str:
        return re.sub(
            rf"number = (\d+)\n{key} = \[\]",
            lambda m: f"number = {m[1]}\n{key} = [{value(int(m[1])):.4f}]",
            text,
        )

    return filled


def rows_filled(kerf_mm: float) -> Callable[[str], str]:
    return lambda text: re.sub(
        r"total_mm = \[\]  # (\d+) pieces",
        lambda m: f"total_mm = [{80 - kerf_mm * int(m[1]):.3f}]  # {m[1]} pieces",
        dated(text),
    )


def cells_filled(text: str) -> str:
    """Cells of :data:`POWER` that part between 2.0 and 2.4 J/mm."""
    through = "through = [1, 2, 7, 8, 9, 13, 14, 15, 16, 19, 20, 21, 22]"
    held = "held = [3, 4, 5, 6, 10, 11, 12, 17, 18, 23, 24]"
    return text.replace("through = []", through).replace("held = []", held)


def test_power_then_kerf_make_a_cut_recipe(trial: Trial) -> None:
    readings = trial.make("power", *POWER)
    trial.fill("power", cells_filled)
    ran = trial.calibrate("power", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 2
    assert "calibration/kerf-next" in ran.stderr
    assert not trial.new.exists()
    told = re.search(r"--speed (\S+) --power (\S+)", ran.stderr)
    assert told is not None
    assert "boundary" in ran.stdout

    readings = trial.make("kerf", "--speed", told[1], "--power", told[2])
    trial.fill("kerf", rows_filled(0.21))
    ran = trial.calibrate("kerf", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 0, ran.stderr
    recipe = load_material(trial.new).recipe("trial machine", "cut")
    assert recipe is not None
    assert (recipe.speed_mm_s, recipe.power) == (float(told[1]), float(told[2]))
    assert recipe.kerf_mm == 0.21
    assert recipe.status is RecipeStatus.TESTED
    assert (recipe.tested_on, recipe.tested_by) == (datetime.date(2031, 5, 17), "Ea")
    text = trial.new.read_text("utf-8")
    assert text.startswith(NEW + SCORED)
    assert trial.material.read_text("utf-8") == NEW + SCORED

    again = trial.calibrate("kerf", "--readings", readings, "--write", trial.new)
    assert "calibration/in-the-way" in again.stderr
    assert (
        trial.calibrate(
            "kerf", "--readings", readings, "--write", trial.new, "--overwrite"
        ).exit_code
        == 0
    )


def test_a_recipe_that_readings_told_is_on_record_with_what_it_was_before(
    trial: Trial, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KERFWRIGHT_RECORDS", str(tmp_path / "records.sqlite"))
    cut = SCORED.replace('"score"', '"cut"') + "kerf_mm = 0.3\n"
    trial.material.write_text(NEW + cut, encoding="utf-8")
    readings = trial.make("kerf")
    trial.fill("kerf", rows_filled(0.25))
    words = ("kerf", "--readings", readings, "--write", trial.material, "--overwrite")
    assert trial.calibrate(*words).exit_code == 0
    (recipe,) = json.loads(run("recipes", "history", "--json").stdout)["recipes"]
    told = [(one["source"], one["settings"]["kerf_mm"]) for one in recipe["versions"]]
    assert told == [("file", 0.3), ("trial", 0.25)]
    last = recipe["versions"][-1]
    assert (last["status"], last["tested_by"]) == ("tested", "Ea")


def test_known_recipe_is_changed_in_its_place(trial: Trial) -> None:
    cut = SCORED.replace('"score"', '"cut"') + (
        'passes = 2\nkerf_mm = 0.3  # old\nstatus = "trusted"\ntested_by = "Ole"\n'
    )
    trial.material.write_text(NEW + cut + SCORED, encoding="utf-8")
    readings = trial.make("kerf")
    trial.fill("kerf", rows_filled(0.25))
    assert "passes = 2" in readings.with_name("piece.toml").read_text("utf-8")
    ran = trial.calibrate("kerf", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 0, ran.stderr
    text = trial.new.read_text("utf-8")
    assert "kerf_mm = 0.25  # old" in text
    assert 'status = "tested"' in text
    assert 'tested_by = "Ea"' in text
    assert [one["process"] for one in tomllib.loads(text)["recipes"]] == ["cut", "score"]


def test_power_beside_an_older_kerf_leaves_the_recipe_untested(trial: Trial) -> None:
    cut = SCORED.replace('"score"', '"cut"') + 'kerf_mm = 0.3\ntested_by = "Ole"\n'
    trial.material.write_text(NEW + cut + 'status = "trusted"\n', encoding="utf-8")
    readings = trial.make("power", *POWER)
    trial.fill("power", cells_filled)
    ran = trial.calibrate("power", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 0, ran.stderr
    assert "counts as untested" in " ".join(ran.stdout.split())
    recipe = load_material(trial.new).recipe("trial machine", "cut")
    assert recipe is not None
    assert recipe.status is RecipeStatus.UNTESTED
    assert recipe.tested_by is None


def test_interval_makes_an_engraving_recipe(trial: Trial) -> None:
    readings = trial.make("interval", "--intervals", 0.08, 0.4, 5, "--speed", 300, "--power", 0.4)
    trial.fill("interval", lambda t: t.replace("coarsest_even = []", "coarsest_even = [3, 3, 4]"))
    ran = trial.calibrate("interval", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 0, ran.stderr
    recipe = load_material(trial.new).recipe("trial machine", "engrave")
    assert recipe is not None
    assert recipe.interval_mm == 0.179
    assert recipe.tested_on is None


@pytest.mark.parametrize("gamma", ["", "gamma = 1.8\n"])
def test_grey_makes_a_photo_recipe(trial: Trial, gamma: str) -> None:
    if gamma:
        photo = SCORED.replace('"score"', '"photo"') + "interval_mm = 0.2\n" + gamma
        trial.material.write_text(NEW + photo, encoding="utf-8")
    readings = trial.make("grey", "--speed", 250, "--power", 0.4, "--interval", 0.2)
    trial.fill("grey", by_number("darkness", lambda n: 0.1 + 0.08 * (n - 1)))
    ran = trial.calibrate("grey", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 0, ran.stderr
    recipe = load_material(trial.new).recipe("trial machine", "photo")
    assert recipe is not None
    assert recipe.gamma is None
    assert recipe.grey_curve is not None
    assert recipe.grey_curve[0] == (0.0, 0.0)
    assert recipe.grey_curve[-1] == (1.0, pytest.approx(0.8 / 0.9, abs=1e-3))


def test_focus_makes_the_machines_spot(trial: Trial) -> None:
    readings = trial.make("focus")
    trial.fill("focus", by_number("width_mm", lambda n: 0.15 * (1 + (n - 7) ** 2 / 9) ** 0.5))
    early = trial.calibrate("focus", "--readings", readings)
    assert "calibration/key-missing" in early.stderr
    trial.fill("focus", lambda text: text.replace("# height", "height"))
    ran = trial.calibrate("focus", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 0, ran.stderr
    assert load_machine(trial.new).spot_mm == pytest.approx(0.15, abs=2e-3)


def test_sheet_tells_cautions_settings_and_how_to_read(trial: Trial) -> None:
    folder = trial.make("power", *POWER).parent
    page = (folder / "sheet.html").read_text("utf-8")
    pdf = "".join(
        p.get_textpage().get_text_bounded() for p in pypdfium2.PdfDocument(folder / "sheet.pdf")
    )
    for text in (page, pdf):
        assert "finger on the emergency stop" in " ".join(text.split())
        assert "Resin may flare up." in text
        assert "26.4" in text
        assert "gentlest cells are burned first" in text
    assert page.count('class="room"') == 24
    assert "<svg" in page


def test_piece_without_marking_says_that_it_bears_no_labels(trial: Trial) -> None:
    trial.material.write_text(NEW, encoding="utf-8")
    folder = trial.make("kerf", *KERF).parent
    assert "bears no labels" in (folder / "sheet.html").read_text("utf-8")
    program = (folder / "kerf.nc").read_text("ascii")
    assert set(re.findall(r"S\d+", program)) == {"S0", "S700"}
    marked = trial.calibrate("kerf", *KERF, "--labels", 150, 0.1, "--out", trial.folder / "two")
    assert marked.exit_code == 0
    assert "S100" in (trial.folder / "two" / "kerf.nc").read_text("ascii")


def test_same_piece_is_the_same_program(trial: Trial) -> None:
    one = trial.make("kerf", *KERF).with_name("kerf.nc")
    trial.calibrate("kerf", *KERF, "--out", trial.folder / "two")
    assert one.read_bytes() == (trial.folder / "two" / "kerf.nc").read_bytes()


def test_what_must_not_be_burned_is_not(trial: Trial) -> None:
    trial.material.write_text(NEW.replace("poplar", "vinyl sheet"), encoding="utf-8")
    ran = trial.calibrate("kerf", *KERF, "--out", trial.folder / "kerf")
    assert ran.exit_code == 2
    assert "material/never-burn" in ran.stderr
    assert not (trial.folder / "kerf").exists()


def test_what_needs_care_is_told(trial: Trial) -> None:
    trial.material.write_text(NEW.replace("poplar", "mdf board"), encoding="utf-8")
    ran = trial.calibrate("kerf", *KERF, "--out", trial.folder / "kerf")
    assert ran.exit_code == 0
    assert "material/needs-care" in ran.stderr
    assert "formaldehyde" in (trial.folder / "kerf" / "sheet.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("kind", "words", "code"),
    [
        ("kerf", (), "unclear-trial"),
        ("kerf", ("--speed", 10, "--power", 1.5, "--out", "x"), "unclear-trial"),
        ("kerf", ("--out", "x"), "unclear-trial"),
        ("kerf", ("--speed", 4000, "--power", 0.5, "--out", "x"), "unburnable-setting"),
        ("power", ("--out", "x"), "unclear-trial"),
        ("power", (*POWER, "--process", "etch", "--out", "x"), "unclear-trial"),
        ("power", (*POWER, "--process", "engrave", "--out", "x"), "unclear-trial"),
        ("power", (*POWER[:4], "--speeds", 5, 4, 6, "--out", "x"), "bad-range"),
        ("power", (*POWER[:4], "--speeds", 5, 40, 20, "--out", "x"), None),
        (
            "interval",
            ("--intervals", 5, 9, 3, "--speed", 9, "--power", 1, "--out", "x"),
            "unburnable-setting",
        ),
        ("grey", (*GREY, "--out", "x"), "unclear-trial"),
        ("grey", (*GREY, "--interval", 0.1, "--method", "spray", "--out", "x"), "wrong-choice"),
        ("grey", (*GREY, "--interval", 0, "--out", "x"), "out-of-range"),
        (
            "power",
            (*POWER, "--process", "engrave", "--interval", -0.1, "--out", "x"),
            "out-of-range",
        ),
        ("focus", ("--labels", 0, 0.4, "--out", "x"), "unclear-trial"),
    ],
)
def test_commands_that_cannot_be_followed_are_refused(
    trial: Trial, kind: str, words: tuple[object, ...], code: str | None
) -> None:
    words = tuple(trial.folder / "x" if word == "x" else word for word in words)
    ran = trial.calibrate(kind, *words)
    if code is None:
        assert ran.exit_code == 0
        return
    assert ran.exit_code == 2
    assert f"calibration/{code}" in ran.stderr
    assert not (trial.folder / "x").exists()


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('row = "C"', 'row = "Z"', "unknown-field"),
        ('row = "C"', 'row = "B"', "odd-reading"),
        ("total_mm = []", "total_mm = [8.0]", "odd-reading"),
        ("total_mm = []", "total_mm = [-1]", "out-of-range"),
        ("total_mm = []", 'total_mm = ["79"]', "wrong-type"),
        ("total_mm = []", "total_mm = [79,3", "not-toml"),
        ("total_mm = []", "length_mm = []", "unknown-key"),
        ("", "", "too-few-seen"),
        ("# tested_on = 2031-05-17", "tested_on = 2031-17-05", "not-toml"),
    ],
)
def test_bad_readings_are_named(trial: Trial, old: str, new: str, code: str) -> None:
    readings = trial.make("kerf", *KERF)
    trial.fill("kerf", lambda text: text.replace(old, new, 1) if old else text)
    ran = trial.calibrate("kerf", "--readings", readings, "--write", trial.new)
    assert ran.exit_code == 2
    assert f"calibration/{code}" in ran.stderr
    assert not trial.new.exists()


def test_readings_need_their_own_piece(trial: Trial) -> None:
    readings = trial.make("kerf", *KERF)
    other = trial.calibrate("power", "--readings", readings)
    assert "calibration/other-piece" in other.stderr
    trial.material.write_text(NEW.replace("= 4", "= 5"), encoding="utf-8")
    thicker = trial.calibrate("kerf", "--readings", readings)
    assert "calibration/other-piece" in thicker.stderr
    assert '"4 mm"' in thicker.stderr
    readings.with_name("piece.toml").unlink()
    assert "calibration/piece-missing" in trial.calibrate("kerf", "--readings", readings).stderr


def test_a_sheet_with_readings_is_never_overwritten(trial: Trial) -> None:
    readings = trial.make("kerf", *KERF)
    before = readings.read_bytes()
    ran = trial.calibrate("kerf", *KERF, "--out", readings.parent)
    assert "calibration/in-the-way" in ran.stderr
    assert readings.read_bytes() == before
