"""Fonts are found beside the drawing and in the system's folders, and matched as CSS says."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.ttLib import TTCollection, TTFont
from fontTools.ttLib.tables.TupleVariation import TupleVariation
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.lettering.font_files import font_file
from kerfwright.drawing.lettering.fonts import Fonts, Wanted, system_folders
from kerfwright.drawing.lettering.setting import Setting, set_font, set_line
from kerfwright.geometry.affine import Affine
from letters import FAMILY, FILE, write_font


def fonts(folder: Path, *system: Path) -> Fonts:
    return Fonts(folder / "drawing.svg", system)


def test_a_font_beside_the_drawing_is_found_whatever_the_case(tmp_path: Path) -> None:
    write_font(tmp_path)
    face = fonts(tmp_path).family(" 'qUAY   test' ")
    assert face is not None
    assert face.file.name == FILE
    assert face.label == f"{FAMILY} Regular from {FILE}"


def test_a_folder_of_fonts_beside_the_drawing_counts_too(tmp_path: Path) -> None:
    (tmp_path / "fonts").mkdir()
    write_font(tmp_path / "fonts")
    assert fonts(tmp_path).family(FAMILY) is not None


def test_a_family_that_is_not_there_is_not_replaced(tmp_path: Path) -> None:
    write_font(tmp_path)
    assert fonts(tmp_path).family("Harbour Script") is None


def test_the_font_beside_the_drawing_goes_before_the_systems(tmp_path: Path) -> None:
    system = tmp_path / "system" / "deep" / "within"
    system.mkdir(parents=True)
    write_font(system, wider=50)
    found = fonts(tmp_path, tmp_path / "system")
    assert found.family(FAMILY).file.parent == system  # type: ignore[union-attr]
    write_font(tmp_path)
    found = fonts(tmp_path, tmp_path / "system")
    assert found.family(FAMILY).file.parent == tmp_path  # type: ignore[union-attr]


def test_a_bold_face_of_the_system_completes_a_family_beside_the_drawing(tmp_path: Path) -> None:
    system = tmp_path / "system"
    system.mkdir()
    write_font(system, style="Bold", weight=700)
    write_font(tmp_path)
    found = fonts(tmp_path, system)
    assert found.family(FAMILY, Wanted(weight=700.0)).weights == (700.0, 700.0)  # type: ignore[union-attr]
    assert found.family(FAMILY).weights == (400.0, 400.0)  # type: ignore[union-attr]


WEIGHTS = (100, 300, 400, 500, 700, 900)


@pytest.mark.parametrize(
    ("there", "wanted", "taken"),
    [
        # CSS Fonts 4, section 5.2, the rules for font-weight
        ((300, 500, 700), 400, 500),
        ((300, 600, 700), 450, 300),
        ((600, 700), 400, 600),
        ((400, 700), 500, 400),
        ((100, 300, 400), 350, 300),
        ((400, 900), 300, 400),
        ((400, 700, 900), 600, 700),
        ((300, 400), 700, 400),
    ],
)
def test_the_nearest_weight_is_taken(
    tmp_path: Path, there: tuple[int, ...], wanted: int, taken: int
) -> None:
    for weight in there:
        write_font(tmp_path, weight=weight, style=f"W{weight}", file=f"w{weight}.ttf")
    face = fonts(tmp_path).family(FAMILY, Wanted(weight=float(wanted)))
    assert face is not None
    assert face.weights == (taken, taken)


@pytest.mark.parametrize(
    ("there", "wanted_percent", "taken_percent"),
    [
        # CSS Fonts 4, section 5.2, the rules for font-stretch
        ((3, 7), 100.0, 75.0),
        ((1, 3), 87.5, 75.0),
        ((5, 7), 75.0, 100.0),
        ((3, 9), 125.0, 200.0),
        ((3, 5), 125.0, 100.0),
    ],
)
def test_the_nearest_width_is_taken(
    tmp_path: Path, there: tuple[int, ...], wanted_percent: float, taken_percent: float
) -> None:
    for width in there:
        write_font(tmp_path, width_class=width, file=f"w{width}.ttf")
    face = fonts(tmp_path).family(FAMILY, Wanted(stretch_percent=wanted_percent))
    assert face is not None
    assert face.stretches_percent == (taken_percent, taken_percent)


def test_slope_goes_before_weight(tmp_path: Path) -> None:
    write_font(tmp_path, style="Bold", weight=700, file="bold.ttf")
    write_font(tmp_path, style="Italic", italic=True, file="italic.ttf")
    face = fonts(tmp_path).family(FAMILY, Wanted(weight=700.0, slope="italic"))
    assert face is not None
    assert face.slope == "italic"


def test_a_postscript_name_finds_its_face(tmp_path: Path) -> None:
    write_font(tmp_path, style="Bold", weight=700)
    face = fonts(tmp_path).family("QuayTest-Bold")
    assert face is not None
    assert face.weights == (700.0, 700.0)


def test_every_face_of_a_collection_is_found(tmp_path: Path) -> None:
    members = [
        write_font(tmp_path, family=name, file=f"{name}.ttf") for name in ("Quay One", "Quay Two")
    ]
    collection = TTCollection()
    collection.fonts = [TTFont(member) for member in members]
    collection.save(tmp_path / "both.ttc")
    for member in members:
        member.unlink()
    found = fonts(tmp_path)
    assert [found.family(name).number for name in ("Quay One", "Quay Two")] == [0, 1]  # type: ignore[union-attr]


def test_a_packed_web_font_is_read(tmp_path: Path) -> None:
    plain = write_font(tmp_path)
    with TTFont(plain) as font:
        font.flavor = "woff"
        font.save(tmp_path / "quaytest.woff")
    plain.unlink()
    assert fonts(tmp_path).family(FAMILY) is not None


@given(cut=st.integers(0, 3000), flip=st.integers(0, 3000), by=st.integers(1, 255))
def test_a_damaged_file_is_told_and_never_stops_the_search(
    tmp_path_factory: pytest.TempPathFactory, cut: int, flip: int, by: int
) -> None:
    folder = tmp_path_factory.mktemp("damaged")
    path = write_font(folder)
    data = bytearray(path.read_bytes()[: 3000 - cut or None])
    if flip < len(data):
        data[flip] ^= by
    path.write_bytes(data)
    file = font_file(path)
    assert file.faces or file.fault or b"glyf" not in data


def test_a_file_by_its_name_in_whatever_case(tmp_path: Path) -> None:
    write_font(tmp_path)
    assert fonts(tmp_path).file_named("C:\\Fonts\\QUAYTEST.TTF") is not None
    assert fonts(tmp_path).file_named("other.ttf") is None


def test_a_generic_family_takes_what_there_is(tmp_path: Path) -> None:
    assert fonts(tmp_path).generic("serif") is None
    assert not fonts(tmp_path)
    write_font(tmp_path)
    assert fonts(tmp_path)
    assert fonts(tmp_path).generic("serif") is not None
    common = write_font(tmp_path, family="Liberation Serif", file="l.ttf")
    assert fonts(tmp_path).generic("serif").file == common  # type: ignore[union-attr]


def test_the_users_folders_follow_the_xdg_specification(monkeypatch: pytest.MonkeyPatch) -> None:
    # XDG Base Directory Specification 0.8: XDG_DATA_HOME first, then XDG_DATA_DIRS in order
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", os.sep + "own")
    monkeypatch.setenv("XDG_DATA_DIRS", f"{os.sep}one:{os.sep}two")
    names = [folder.parent.name for folder in system_folders() if folder.name == "fonts"]
    assert names == ["own", "one", "two"]


def test_folders_that_lead_round_in_a_circle_are_walked_once(tmp_path: Path) -> None:
    system = tmp_path / "system"
    system.mkdir()
    write_font(system)
    try:
        (system / "again").symlink_to(system, target_is_directory=True)
    except OSError:
        shutil.copy(system / FILE, system / "again.ttf")
    assert fonts(tmp_path / "none", system).family(FAMILY) is not None


def test_a_variable_font_is_set_at_the_weight_asked_for(tmp_path: Path) -> None:
    path = write_font(tmp_path)
    with TTFont(path) as font:
        builder = FontBuilder(font=font)
        builder.setupFvar([("wght", 100.0, 400.0, 900.0, "Weight")], [])
        # the right side of A moves 300 units outwards up to the heaviest weight
        wider = [(0, 0), (0, 0), (300, 0), (300, 0), (0, 0), (300, 0), (0, 0), (0, 0)]
        builder.setupGvar({"A": [TupleVariation({"wght": (0.0, 1.0, 1.0)}, wider)]})
        builder.save(tmp_path / "variable.ttf")
    path.unlink()
    face = fonts(tmp_path).family(FAMILY, Wanted(weight=650.0))
    assert face is not None
    assert face.weights == (100.0, 900.0)
    for weight, right in ((400.0, 0.6), (650.0, 0.75), (900.0, 0.9), (1000.0, 0.9)):
        (cluster,) = set_line("A", [Setting((set_font(face, weight),))])
        (outline,) = cluster.drawn(Affine())
        assert max(outline.pieces[0].points[:, 0]) == pytest.approx(right)  # type: ignore[union-attr]
        assert cluster.advance == pytest.approx(right + 0.1)
