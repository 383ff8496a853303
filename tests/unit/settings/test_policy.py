"""Policy files: the check they ask for, and their faults."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.errors import SettingsError
from acquire.model import PieceRule, Quantity
from acquire.settings import config_dir, load_policy

SOUND = """
quantity = "gloss"
geometry = [60, 20]
resolution = 0.1
valid_for_s = 3600

[[step]]
piece = "T1"
readings = 3
limit = 1.0
spread_limit = 0.50
"""


def _faults(path: Path, text: str) -> list[str]:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        load_policy(path)
    return [str(fault) for fault in caught.value.faults]


def test_a_policy_is_named_after_its_file_and_keeps_the_digits(tmp_path: Path) -> None:
    path = tmp_path / "both-angles.toml"
    path.write_text(SOUND, encoding="utf-8")
    policy = load_policy(path)
    assert policy.id == "both-angles"
    assert policy.quantity is Quantity.GLOSS
    assert policy.channels == ("60", "20")
    assert policy.unit == "gloss_unit"
    assert policy.resolution == Decimal("0.1")
    assert policy.rules == (PieceRule("T1", 3, Decimal("1.0"), Decimal("0.50")),)
    assert str(policy.rules[0].spread_limit) == "0.50"
    assert (policy.valid_for_s, policy.clock_jump_s) == (3600.0, 2.0)


@pytest.mark.parametrize(("name", "geometry"), [("gloss-20", "20"), ("gloss-60", "60")])
def test_the_shipped_policies_check_two_tiles_and_the_trap(name: str, geometry: str) -> None:
    policy = load_policy(config_dir() / "policies" / f"{name}.toml")
    assert policy.channels == (geometry,)
    assert [rule.piece for rule in policy.rules] == ["T1", "T2", "Z0"]
    assert policy.valid_for_s == 4 * 3600


def test_a_policy_in_gram_force_is_kept_in_newton_to_the_last_digit(tmp_path: Path) -> None:
    path = tmp_path / "pull.toml"
    path.write_text(
        SOUND.replace('quantity = "gloss"', 'quantity = "force"').replace(
            "geometry = [60, 20]\n", 'unit = "gram_force"\n'
        ),
        encoding="utf-8",
    )
    policy = load_policy(path)
    # Standard gravity 9.80665 m/s2 exactly (3rd CGPM, 1901; BIPM, SI Brochure).
    assert policy.unit == "newton"
    assert policy.rules[0].limit == Decimal("0.00980665")
    assert policy.resolution == Decimal("0.000980665")


def test_every_fault_of_a_policy_is_told_at_once(tmp_path: Path) -> None:
    text = """
quantity = "force"
geometry = 20
unit = "gram"
resolution = 0
valid_for_s = 604801
clock_jump_s = inf

[[step]]
piece = "W1"
readings = 1
limit = -1
spread_limit = "0.5"

[[step]]
piece = "W1"
readings = 3
limit = nan
spread_limit = 0.5
"""
    assert _faults(tmp_path / "pull.toml", text) == [
        "geometry: got 20, wanted no geometry, which only gloss has (here: force)",
        "unit: got 'gram', wanted a unit of force: 'newton', 'millinewton', 'kilonewton', "
        "'gram_force', 'kilogram_force', 'pound_force' or 'ounce_force'",
        "resolution: got 0, wanted a number, more than 0",
        "valid_for_s: got 604801, wanted a number, more than 0 and at most 604800",
        "clock_jump_s: got Infinity, wanted a number, more than 0 and at most 3600",
        "step[0].readings: got 1, wanted a whole number from 2 to 100",
        "step[0].limit: got -1, wanted a number, more than 0",
        "step[0].spread_limit: got '0.5', wanted a number, more than 0",
        "step[1].piece: got 'W1', wanted each piece in one step",
        "step[1].limit: got NaN, wanted a finite number, more than 0",
    ]


def test_gloss_without_a_geometry_is_no_policy(tmp_path: Path) -> None:
    assert _faults(tmp_path / "p.toml", SOUND.replace("geometry = [60, 20]", "")) == [
        "geometry: got nothing, wanted 20, 60 or 85, or a list of them such as [20, 60]"
    ]


def test_a_policy_without_steps_checks_nothing_and_is_refused(tmp_path: Path) -> None:
    head = SOUND.split("[[step]]", maxsplit=1)[0]
    assert _faults(tmp_path / "p.toml", head) == [
        "step: got nothing, wanted one or more [[step]] tables"
    ]
    assert _faults(tmp_path / "p.toml", head + "step = []\n") == [
        "step: got an empty list, wanted 1 or more entries"
    ]


@pytest.mark.parametrize(
    ("line", "got", "wanted"),
    [
        ("limit = 1e300", "1E+300", "a number, more than 0 and at most 1000000000000"),
        ("limit = nan", "NaN", "a finite number, more than 0"),
        ("limit = inf", "Infinity", "a finite number, more than 0"),
        ("limit = 1e-30", "1E-30", "a number of at most 12 decimals, more than 0"),
    ],
)
def test_a_limit_that_is_no_number_is_told_with_the_bounds_of_a_limit(
    tmp_path: Path, line: str, got: str, wanted: str
) -> None:
    text = SOUND.replace("\nlimit = 1.0", f"\n{line}")
    assert _faults(tmp_path / "p.toml", text) == [f"step[0].limit: got {got}, wanted {wanted}"]


def test_a_limit_as_wide_as_the_scale_is_no_limit(tmp_path: Path) -> None:
    # All light sent back: 100 / R(20 deg, n = 1.567) with R = 0.0490 (ISO 2813: 0.049078), so
    # 2037.6 GU; at 60 degrees R = 0.1000, so 999.9 GU (Fresnel's equations).
    text = SOUND.replace("\nlimit = 1.0", "\nlimit = 100000").replace("0.50", "1000")
    text = text.replace("[[step]]", "linearity_limit = 1e5\n\n[[step]]")
    text += '[[step]]\npiece = "T2"\nreadings = 3\nlimit = 1\nspread_limit = 1\n'
    faults = _faults(tmp_path / "p.toml", text)
    assert [fault.split(": got")[0] for fault in faults] == [
        "linearity_limit",
        "step[0].limit",
        "step[0].spread_limit",
    ]
    found = re.fullmatch(
        r"step\[0\].limit: got 100000, wanted less than (\S+) gloss_unit, all light sent back at "
        r"60°: a limit as wide as the scale holds nothing",
        faults[1],
    )
    assert found is not None
    assert float(found[1]) == pytest.approx(999.9, abs=0.5)


def test_a_limit_as_wide_as_the_range_is_no_limit_in_any_unit(tmp_path: Path) -> None:
    text = SOUND.replace('"gloss"', '"force"').replace("geometry = [60, 20]", 'unit = "gram_force"')
    text = text.replace("[[step]]", "range = [-1, 500]\n\n[[step]]")
    assert _faults(tmp_path / "p.toml", text.replace("\nlimit = 1.0", "\nlimit = 501")) == [
        "step[0].limit: got 501, wanted less than 501 gram_force, the width of range: a limit as "
        "wide as the scale holds nothing"
    ]
    share = SOUND.replace('"gloss"', '"transmittance"')
    share = share.replace("geometry = [60, 20]", 'band = "315-400"\nunit = "one"')
    assert _faults(tmp_path / "p.toml", share.replace("0.50", "0.5")) == [
        "step[0].limit: got 1.0, wanted less than 1 one, all light let through at 315-400 nm: a "
        "limit as wide as the scale holds nothing"
    ]


@pytest.mark.parametrize(
    ("key", "got"),
    [("humidity_percent", "[0, 0]"), ("humidity_percent", "[20, 175]"),
     ("humidity_percent", "[-5, 50]"), ("humidity_percent", "[nan, 50]"),
     ("temperature_c", "[28, 18]"), ("temperature_c", "[1000, 2000]"),
     ("temperature_c", "[-40, 20]")],
)  # fmt: skip
def test_limits_of_the_room_are_those_that_a_room_can_have(
    tmp_path: Path, key: str, got: str
) -> None:
    wanted = {
        "humidity_percent": "two numbers, from and to, such as [20, 75], the lower one first, "
        "from 0 to 100 (percent of relative humidity)",
        "temperature_c": "two numbers, from and to, such as [18, 28], the lower one first, from "
        "-10 to 50 (degrees Celsius at a bench)",
    }[key]
    text = f"{SOUND}\n[ambient]\n{key} = {got}\n"
    shown = got.replace("nan", "NaN")
    assert _faults(tmp_path / "p.toml", text) == [f"ambient.{key}: got {shown}, wanted {wanted}"]


def test_a_policy_file_alone_tells_that_one_piece_makes_no_straight_line(tmp_path: Path) -> None:
    text = SOUND.replace("[[step]]", "linearity_limit = 1.5\n\n[[step]]")
    assert _faults(tmp_path / "p.toml", text) == [
        "linearity_limit: got 1.5, wanted steps with two pieces that read other than 0, or no "
        "linearity_limit: one between zero and the highest piece is judged"
    ]
