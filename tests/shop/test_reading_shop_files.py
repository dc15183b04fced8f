"""The shop's TOML files: what is read, and what is said when something is wrong."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.shop.files import (
    load_machine,
    load_material,
    load_order,
    load_shop,
    missing_recipe_error,
)
from kerfwright.shop.order import Item, Rule

MACHINE = """
name = "Trial 60"
bed_width_mm = 900
bed_height_mm = 600
power_w = 60
invented = true

[travel]
speed_mm_s = [1000, 1000]
acceleration_mm_s2 = [3100, 3100]

[cutting]
speed_mm_s = [400.0, 400.0]
acceleration_mm_s2 = [3100, 3100]

[scanning]
speed_mm_s = [1000, 300]
acceleration_mm_s2 = [16000, 3100]
"""

MATERIAL = """
name = "birch plywood 4 mm"
thickness_mm = 4
cautions = ["Glue lines can flare up: stay with the machine."]

[[recipes]]
machine = "Trial 60"
process = "cut"
speed_mm_s = 15
power = 0.7
kerf_mm = 0.18

[[recipes]]
machine = "Trial 60"
process = "engrave"
speed_mm_s = 500
power = 0.25
interval_mm = 0.1
status = "tested"
"""

ORDER = """
title = "Harbour race"
machine = "trial.toml"
materials = ["birch.toml"]

[[items]]
drawing = "sign.svg"
material = "birch plywood 4 mm"

[[items]]
drawing = "tokens.svg"
quantity = 24
material = "birch plywood 4 mm"
unit = "in"

[[stock]]
material = "birch plywood 4 mm"
name = "full sheet"
width_mm = 800
height_mm = 500

[[rules]]
layer = "Fold*"
process = "score"

[settings]
margin_mm = 8
"""

WriteFolder = Callable[..., Path]


@pytest.fixture
def shop(tmp_path: Path) -> WriteFolder:
    """Writes a sound order with its files; any text may be replaced."""

    def write(
        *changes: tuple[str, str],
        order: str = ORDER,
        machine: str = MACHINE,
        material: str = MATERIAL,
    ) -> Path:
        for old, new in changes:
            assert old in order + machine + material
            order, machine, material = (
                text.replace(old, new) for text in (order, machine, material)
            )
        (tmp_path / "order.toml").write_text(order, encoding="utf-8")
        (tmp_path / "trial.toml").write_text(machine, encoding="utf-8")
        (tmp_path / "birch.toml").write_text(material, encoding="utf-8")
        (tmp_path / "sign.svg").touch()
        (tmp_path / "tokens.svg").touch()
        return tmp_path / "order.toml"

    return write


def refused(path: Path, read: Callable[[Path], object] = load_shop) -> KerfwrightError:
    with pytest.raises(KerfwrightError) as caught:
        read(path)
    page, _, slug = caught.value.code.partition("/")
    help_page = Path(__file__).parents[2] / "docs" / "help" / f"{page}.md"
    assert f"## {slug}\n" in help_page.read_text(encoding="utf-8"), caught.value.code
    assert caught.value.remedy
    return caught.value


def test_a_sound_order_is_read_with_everything_it_names(shop: WriteFolder) -> None:
    read = load_shop(shop())
    assert read.machine.scanning.acceleration_mm_s2 == (16000.0, 3100.0)
    assert read.material("birch plywood 4 mm").recipes[0].kerf_mm == 0.18
    assert read.material_file("birch plywood 4 mm").name == "birch.toml"
    assert [item.quantity for item in read.order.items] == [1, 24]
    assert read.drawing_file(read.order.items[1]).is_file()
    assert read.order.settings.margin_mm == 8.0


def test_a_file_saved_with_a_byte_order_mark_and_windows_line_ends_is_read(
    shop: WriteFolder,
) -> None:
    path = shop()
    text = path.read_text(encoding="utf-8").replace("\n", "\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert load_order(path).title == "Harbour race"


@pytest.mark.parametrize(
    ("unit", "length_mm"),
    [("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("px", 25.4 / 96), ("pt", 25.4 / 72), (None, None)],
)
def test_units_of_a_drawing(unit: str | None, length_mm: float | None) -> None:
    """One inch is 25.4 mm, 96 px and 72 pt (W3C, CSS Values and Units Level 3, section 5.2)."""
    item = Item.model_validate({"drawing": "a.dxf", "material": "m", "unit": unit})
    assert item.unit_mm == length_mm


@pytest.mark.parametrize(
    ("written", "meant"),
    [("#C00000", "#c00000"), ("#c00", "#cc0000"), ("Red", "#ff0000"), ("rgb(1,2,3)", "#010203")],
)
def test_colours_of_a_rule_may_be_written_as_css_writes_them(written: str, meant: str) -> None:
    """Values by W3C, CSS Color Module Level 3, section 4."""
    assert Rule.model_validate({"process": "cut", "stroke": written}).stroke == meant


ORDER_FAULTS = [
    # what is changed, code, words that the message must have
    (("quantity = 24", "quantity = 0"), "order/out-of-range", "items[2].quantity", "1 or more"),
    (("quantity = 24", "quantity = 2.5"), "order/wrong-type", "items[2].quantity", "whole number"),
    (("quantity = 24", 'quantity = "24"'), "order/wrong-type", "items[2].quantity", "quotes"),
    (("quantity = 24", "quantity = true"), "order/wrong-type", "items[2].quantity", "whole"),
    (("quantity = 24", "quantity = 1979-05-27"), "order/wrong-type", "items[2].quantity", "date"),
    (("quantity = 24", "quantty = 24"), "order/unknown-key", "items[2].quantty", '"quantity"'),
    (("margin_mm = 8", "margin_mm = -1"), "order/out-of-range", "settings.margin_mm", "0 or more"),
    (("margin_mm = 8", "margin_mm = nan"), "order/out-of-range", "settings.margin_mm", "nan"),
    (("margin_mm = 8", "margin = 8"), "order/unknown-key", "settings.margin", '"margin_mm"'),
    (("unit = ", "gap_mm = 1\nunit = "), "order/unknown-key", "items[2].gap_mm", "[settings]"),
    (('unit = "in"', 'unit = "inch"'), "order/wrong-choice", "items[2].unit", '"in"'),
    (
        ('process = "score"', 'process = "scor"'),
        "order/wrong-choice",
        "rules[1].process",
        '"score"',
    ),
    (('layer = "Fold*"', "layer = 3"), "order/wrong-type", "rules[1].layer", "text in quotes"),
    (('layer = "Fold*"', 'fill = "reddish"'), "order/wrong-type", "rules[1].fill", "colour"),
    (('layer = "Fold*"', "fill = 1"), "order/wrong-type", "rules[1].fill", "true"),
    (('title = "Harbour race"', ""), "order/key-missing", "title", "Add"),
    (('title = "Harbour race"', 'title = ""'), "order/out-of-range", "title", "empty"),
    (('["birch.toml"]', '"birch.toml"'), "order/wrong-type", "materials", "list"),
    (('["birch.toml"]', "[]"), "order/out-of-range", "materials", "empty"),
    (("[[stock]]", "[stock]"), "order/wrong-type", "stock", "[[stock]]"),
    (('unit = "in"', "turns_deg = [0, inf]"), "order/out-of-range", "turns_deg[2]", "inf"),
    (
        ('machine = "trial.toml"', 'machine = "trail.toml"'),
        "order/file-missing",
        "machine",
        "trial",
    ),
    (('"birch.toml"', '"brich.toml"'), "order/file-missing", "materials[1]", '"birch.toml"'),
    (('"tokens.svg"', '"token.svg"'), "order/drawing-missing", "items[2].drawing", '"tokens.svg"'),
    (('"tokens.svg"', '"a\\\\b.svg"'), "order/drawing-missing", "items[2].drawing", "/"),
    (('"tokens.svg"', '"no/b.svg"'), "order/drawing-missing", "items[2].drawing", "folder"),
    (
        ('name = "birch plywood 4 mm"', 'name = "birch"'),
        "order/material-unknown",
        "items[1]",
        "birch",
    ),
    (("800", "1200"), "order/sheet-too-big", "stock[1].width_mm", "900 × 600"),
    (
        ('["birch.toml"]', '["birch.toml", "birch.toml"]'),
        "order/material-twice",
        "materials[2]",
        "name",
    ),
]


@pytest.mark.parametrize(("change", "code", "key", "word"), ORDER_FAULTS)
def test_a_wrong_order_is_refused_by_file_key_and_remedy(
    shop: WriteFolder, change: tuple[str, str], code: str, key: str, word: str
) -> None:
    path = shop(change)
    error = refused(path)
    assert error.code == code
    assert error.file == str(path)
    assert key in error.thing
    assert word in error.thing + error.remedy


MACHINE_FAULTS = [
    (("[400.0, 400.0]", "[400.0, -1]"), "machine/out-of-range", "cutting.speed_mm_s[2]", "than 0"),
    (("[400.0, 400.0]", "[400.0]"), "machine/wrong-type", "cutting.speed_mm_s", "[x, y]"),
    (("[400.0, 400.0]", "400.0"), "machine/wrong-type", "cutting.speed_mm_s", "list"),
    (("[400.0, 400.0]", "[4, 4, 4]"), "machine/wrong-type", "cutting.speed_mm_s", "2 values"),
    (("power_w = 60", "powr_w = 60"), "machine/unknown-key", "powr_w", '"power_w"'),
    (("power_w = 60", "power_w = 0"), "machine/out-of-range", "power_w", "more than 0"),
    (("power_w = 60", "controller = 3\npower_w = 6"), "machine/wrong-type", "controller", "table"),
    (("[scanning]", "[scaning]"), "machine/unknown-key", "scaning", '"scanning"'),
    (("power_w = 60", 'power_w = 6\nlaser_class = "5"'), "machine/wrong-choice", "laser", '"4"'),
]


@pytest.mark.parametrize(("change", "code", "key", "word"), MACHINE_FAULTS)
def test_a_wrong_machine_is_refused(
    shop: WriteFolder, change: tuple[str, str], code: str, key: str, word: str
) -> None:
    error = refused(shop(change).with_name("trial.toml"), load_machine)
    assert (error.code, error.file[-10:]) == (code, "trial.toml")
    assert key in error.thing
    assert word in error.thing + error.remedy


MATERIAL_FAULTS = [
    (("kerf_mm = 0.18", ""), "material/kerf-missing", "recipes[1].kerf_mm", "calibrate kerf"),
    (
        ("interval_mm = 0.1", ""),
        "material/interval-missing",
        "recipes[2].interval_mm",
        "calibrate interval",
    ),
    (("power = 0.7", "power = 70"), "material/out-of-range", "recipes[1].power", "Fraction"),
    (
        ("speed_mm_s = 15", "speed_mm_s = -15"),
        "material/out-of-range",
        "recipes[1].speed",
        "than 0",
    ),
    (('"engrave"', '"cut"\nkerf_mm = 1'), "material/recipe-twice", "recipes[2].process", "[1]"),
    (("thickness_mm = 4", "thickness = 4"), "material/unknown-key", "thickness", "thickness_mm"),
]


@pytest.mark.parametrize(("change", "code", "key", "word"), MATERIAL_FAULTS)
def test_a_wrong_material_is_refused(
    shop: WriteFolder, change: tuple[str, str], code: str, key: str, word: str
) -> None:
    error = refused(shop(change).with_name("birch.toml"), load_material)
    assert (error.code, error.file[-10:]) == (code, "birch.toml")
    assert key in error.thing
    assert word in error.thing + error.remedy


def test_all_faults_are_told_at_once_in_the_order_of_the_file(shop: WriteFolder) -> None:
    error = refused(
        shop(
            ("quantity = 24", "quantity = 0"),
            ("margin_mm = 8", "margn_mm = 8"),
            ('drawing = "sign.svg"', "drawing = 7"),
        )
    )
    assert error.code == "order/wrong-type"
    places = [
        error.thing.index(key)
        for key in ("items[1].drawing", "items[2].quantity", "settings.margn_mm")
    ]
    assert places == sorted(places)
    assert error.thing.startswith("3 things")


def test_an_unknown_material_names_the_nearest_one(shop: WriteFolder) -> None:
    path = shop()
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("birch plywood 4 mm", "birch plywood 4mm", 1), encoding="utf-8")
    error = refused(path)
    assert error.code == "order/material-unknown"
    assert 'Did you mean "birch plywood 4 mm"?' in error.remedy


def test_an_item_whose_material_has_no_sheet_is_refused(shop: WriteFolder, tmp_path: Path) -> None:
    other = MATERIAL.replace("birch plywood 4 mm", "acrylic 3 mm")
    path = shop(('["birch.toml"]', '["birch.toml", "acrylic.toml"]'))
    (tmp_path / "acrylic.toml").write_text(other, encoding="utf-8")
    text = path.read_text(encoding="utf-8")
    head, mark, tail = text.partition("[[stock]]")
    path.write_text(head + mark + tail.replace("birch plywood 4 mm", "acrylic 3 mm"), "utf-8")
    error = refused(path)
    assert error.code == "order/stock-missing"
    assert "items[1].material" in error.thing
    assert "items[2].material" in error.thing


@pytest.mark.parametrize("read", [load_machine, load_material, load_order, load_shop])
def test_a_missing_file_is_named_with_the_one_that_may_be_meant(
    tmp_path: Path, read: Callable[[Path], object]
) -> None:
    (tmp_path / "regatta.toml").touch()
    error = refused(tmp_path / "regata.toml", read)
    assert error.code.endswith("/file-missing")
    assert "regatta.toml" in error.remedy
    assert refused(tmp_path, read).code.endswith("/file-missing")
    assert refused(tmp_path / "no" / "such.toml", read).code.endswith("/file-missing")


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"title = \n", "line 1"),
        (b'title = "a"\ntitle = "b"\n', "line 2"),
        (b'title = "a"\n# \xe9\n', "line 2"),
        (b"a = " + b"[" * 5000, "deep"),
        (b"\x00\x01", "line 1"),
        (b"n = " + b"9" * 5000, "TOML"),
    ],
)
def test_what_is_not_toml_is_refused_by_line(tmp_path: Path, content: bytes, word: str) -> None:
    path = tmp_path / "order.toml"
    path.write_bytes(content)
    error = refused(path, load_order)
    assert error.code == "order/not-toml"
    assert word in error.thing


def test_a_missing_recipe_offers_a_test_piece_and_no_settings(shop: WriteFolder) -> None:
    read = load_shop(shop(('Trial 60"\nprocess = "cut"', 'Trial-60"\nprocess = "cut"')))
    error = missing_recipe_error(read.materials[0], read.machine, "cut", "birch.toml")
    assert error.code == "material/recipe-missing"
    assert error.file == "birch.toml"
    for word in ("cut", "birch plywood 4 mm", "Trial 60", "Trial-60"):
        assert word in error.thing
    assert "test piece" in error.remedy
    assert '"Trial-60" is the same machine' in error.remedy
    assert "15" not in str(error)
    assert "0.7" not in str(error)


toml_values = st.one_of(
    st.booleans(),
    st.integers(-5, 5),
    st.floats(),
    st.text(max_size=5),
    st.none(),
    st.lists(st.integers(), max_size=3),
)


@given(st.data())
def test_any_wrong_value_anywhere_gives_the_one_error_and_never_a_traceback(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    lines = ORDER.splitlines()
    number = data.draw(st.integers(0, len(lines) - 1))
    value = data.draw(toml_values)
    key = lines[number].partition("=")[0].strip() or "spare"
    lines[number] = f"{key} = {json.dumps(value)}" if "[" not in key else key.strip("[]")
    path = tmp_path_factory.mktemp("any") / "order.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    try:
        load_order(path)
    except KerfwrightError as error:
        assert error.file == str(path)
        assert error.remedy


def _schema(page: str) -> dict[str, object]:
    path = Path(__file__).parents[2] / "docs" / "schema" / f"{page}.schema.json"
    loaded: dict[str, object] = json.loads(path.read_text(encoding="utf-8"))
    return loaded


# a colour's spelling, references and finiteness are beyond what JSON Schema can say
BEYOND_SCHEMA = ("nan", "inf", "reddish", "quantity = 1979")


@pytest.mark.parametrize("page", ["machine", "material", "order"])
def test_the_published_schema_agrees_with_the_reader(page: str) -> None:
    """Checked by the independent ``jsonschema`` library, draft 2020-12."""
    import tomllib  # noqa: PLC0415

    sound = {"machine": MACHINE, "material": MATERIAL, "order": ORDER}[page]
    cases = {"machine": MACHINE_FAULTS, "material": MATERIAL_FAULTS, "order": ORDER_FAULTS}[page]
    validator = jsonschema.Draft202012Validator(_schema(page))
    validator.check_schema(_schema(page))
    assert validator.is_valid(tomllib.loads(sound))
    checked = 0
    for (old, new), code, _, _ in cases:
        by_schema = code.partition("/")[2] in (
            "out-of-range", "wrong-type", "unknown-key", "wrong-choice", "key-missing",
            "kerf-missing", "interval-missing",
        )  # fmt: skip
        if old in sound and by_schema and not any(word in new for word in BEYOND_SCHEMA):
            assert not validator.is_valid(tomllib.loads(sound.replace(old, new))), new
            checked += 1
    assert checked >= 5


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("bed_width_mm = 900,5", "with a point"),
        ('name = "C:\\Users\\shop"', "single quotes"),
        ("name = Slipway", "in quotes"),
    ],
)
def test_usual_slips_in_toml_have_their_own_remedy(tmp_path: Path, line: str, remedy: str) -> None:
    file = tmp_path / "machine.toml"
    file.write_text(f"power_w = 60\n{line}\n", encoding="utf-8")
    with pytest.raises(KerfwrightError) as caught:
        load_machine(file)
    assert caught.value.code == "machine/not-toml"
    assert "line 2" in caught.value.thing
    assert remedy in caught.value.remedy
