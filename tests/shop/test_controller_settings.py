"""A controller's list of settings in the words of a machine file.

The numbers and their units are those in common use by open controllers of the dialect grbl-type
(common practice, no source): rates in mm/min, accelerations in mm/s², lengths in mm.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.findings import Severity
from kerfwright.shop.controller_settings import SETTINGS, SettingsRead, read_settings
from kerfwright.shop.machine import AxisLimits, Controller, Dialect, Machine

LIMITS = AxisLimits(speed_mm_s=(500, 500), acceleration_mm_s2=(3000, 3000))
MACHINE = Machine(
    name="Quay 90",
    bed_width_mm=900,
    bed_height_mm=600,
    power_w=60,
    travel=LIMITS,
    cutting=LIMITS,
    scanning=LIMITS,
)
LIST = """\
; settings of the workshop's laser

$0=10
$11 = 0.020 (junction deviation, mm)
$12=0.002
$30=255
$31=0
$32=1
 $110=36000.000
$111=24000 (y max rate, mm/min)
$120=4000.5
$121=2500   ; slower
$130=812
$131=508.000
ok
"""


def read(text: str, machine: Machine = MACHINE) -> SettingsRead:
    return read_settings(text.splitlines(), machine, "list.txt")


def codes(found: SettingsRead) -> list[str]:
    return [finding.code.partition("/")[2] for finding in found.findings]


def test_units_are_turned_into_those_of_a_machine_file() -> None:
    found = read(LIST)
    assert found.findings == ()
    assert found.values == {
        "junction_deviation_mm": 0.02,
        "controller.full_power_s_word": 255,
        **{f"{table}.speed_mm_s[1]": 600 for table in ("travel", "cutting", "scanning")},
        **{f"{table}.speed_mm_s[2]": 400 for table in ("travel", "cutting", "scanning")},
        **{f"{table}.acceleration_mm_s2[1]": 4000.5 for table in ("travel", "cutting", "scanning")},
        **{f"{table}.acceleration_mm_s2[2]": 2500 for table in ("travel", "cutting", "scanning")},
        "bed_width_mm": 812,
        "bed_height_mm": 508,
    }
    assert found.from_setting["cutting.speed_mm_s[2]"] == 111


def test_lines_that_are_no_settings_are_told() -> None:
    found = read(LIST + "hello\n$200=3\n$110\n$120=fast\n")
    assert codes(found) == ["unknown-setting"] * 4
    assert "hello" in found.findings[0].what
    assert "line 16" in found.findings[0].what
    assert found.values == read(LIST).values


@pytest.mark.parametrize(
    "line", ["$110=0", "$110=-600", "$111=1e9", "$120=0.1", "$11=-0.01", "$130=3", "$30=0"]
)
def test_values_that_no_laser_has_are_told_and_not_taken(line: str) -> None:
    found = read(f"$131=500\n{line}\n")
    assert codes(found) == ["implausible-setting"]
    assert found.values == {"bed_height_mm": 500}


def test_a_setting_with_two_values_is_not_taken() -> None:
    found = read("$110=600\n$111=600\n$110=900\n$111=600\n")
    assert codes(found) == ["setting-twice"]
    assert set(found.from_setting.values()) == {111}


def test_laser_mode_that_is_off_is_told_where_programs_count_on_it() -> None:
    assert codes(read("$32=0\n$110=600\n")) == ["laser-mode-off"]
    plain = MACHINE.model_copy(update={"controller": Controller(dialect=Dialect.RS274_NGC)})
    assert codes(read("$32=0\n$110=600\n", plain)) == []
    assert codes(read("$31=20\n$110=600\n")) == ["smallest-power"]


@pytest.mark.parametrize("text", ["", "; nothing\n", "$0=10\n"])
def test_a_list_that_tells_nothing_is_told(text: str) -> None:
    found = read(text)
    assert not found.values
    assert [one.severity for one in found.findings] == [Severity.WARN]


@given(text=st.text(max_size=300))
def test_any_text_gives_findings_and_never_an_unfit_value(text: str) -> None:
    found = read(text)
    for key, value in found.values.items():
        setting = SETTINGS[found.from_setting[key]]
        assert setting.least <= value <= setting.most


@given(rate=st.floats(60.0, 600_000.0))
def test_a_rate_is_a_sixtieth_in_a_second(rate: float) -> None:
    found = read(f"$110={rate!r}")
    assert found.values["travel.speed_mm_s[1]"] == pytest.approx(rate / 60.0, abs=1e-6)
