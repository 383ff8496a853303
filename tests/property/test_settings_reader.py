"""Whatever stands in a settings file, the reader gives a model or one list of faults."""

from __future__ import annotations

import copy
import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import Fault, SettingsError
from acquire.model import Plan
from acquire.schema import Schema, load_toml, parse_toml, read, survey
from acquire.settings import config_dir, load_bench, parse_plan
from acquire.settings.bench import BenchFile
from acquire.settings.layout import as_written
from acquire.settings.policy import PolicyFile
from acquire.settings.trial import TrialFile

EXAMPLES: dict[type[Schema], dict[str, Any]] = {
    BenchFile: load_toml(config_dir() / "boatyard" / "bench.toml"),
    TrialFile: load_toml(config_dir() / "boatyard" / "trial.toml"),
    PolicyFile: load_toml(config_dir() / "policies" / "gloss-20.toml"),
}

LEAVES = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["gloss", "force", "T1", "127.0.0.1:0", "by-zone", "\x00", "\u202e", "%s{}"]),
    st.integers(),
    st.sampled_from([0, 20, 10**400, -(2**2000)]),
    st.booleans(),
    st.decimals(),
    st.floats(),
    st.dates(),
    st.times(),
    st.datetimes(),
    st.just(datetime(2030, 1, 1, tzinfo=UTC)),
)
KEYS = st.one_of(
    st.text(max_size=8), st.sampled_from(["id", "link", "zone", "geometry", "step", "a.b", "[0]"])
)
VALUES = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=8,
)


def _check(schema: type[Schema], table: dict[str, Any]) -> None:
    """A model, or faults that can be shown on one line each and are no two the same."""
    before = repr(table)
    for fault in _faults_of(lambda: read(schema, table, "some.toml")):
        assert all(part and part.isprintable() for part in fault)
        assert len(fault.got) <= 100
    assert repr(table) == before


def _faults_of(act: Callable[[], object]) -> list[Fault]:
    """What an act complains of; nothing if it went well. Any other exception fails the test."""
    try:
        act()
    except SettingsError as error:
        return error.faults or [Fault("", "", "")]
    return []


@pytest.mark.parametrize("schema", EXAMPLES)
@given(table=st.dictionaries(KEYS, VALUES, max_size=5))
def test_any_table_gives_a_model_or_faults(schema: type[Schema], table: dict[str, Any]) -> None:
    _check(schema, table)


def _places(value: Any) -> list[tuple[Any, Any]]:
    """Every (container, key) of a table and all below it."""
    keys: list[Any] = list(value) if isinstance(value, dict) else []
    if isinstance(value, list):
        keys = list(range(len(value)))
    return [(value, key) for key in keys] + [p for key in keys for p in _places(value[key])]


@pytest.mark.parametrize("schema", EXAMPLES)
@given(data=st.data())
def test_an_example_with_anything_put_anywhere_gives_a_model_or_faults(
    schema: type[Schema], data: st.DataObject
) -> None:
    table = copy.deepcopy(EXAMPLES[schema])
    for _ in range(data.draw(st.integers(1, 4))):
        container, key = data.draw(st.sampled_from(_places(table)))
        act = data.draw(st.sampled_from(["replace", "remove", "add", "repeat"]))
        if act == "replace":
            container[key] = data.draw(VALUES)
        elif act == "remove":
            del container[key]
        elif isinstance(container, dict):
            container[data.draw(KEYS)] = data.draw(VALUES)
        elif act == "repeat":
            container.append(copy.deepcopy(container[key]))
        if not table:
            break
    _check(schema, table)


@given(text=st.text(st.characters(codec=None), max_size=60))
def test_any_text_gives_a_table_or_faults(text: str) -> None:
    assert all(map(all, _faults_of(lambda: parse_plan(text, "trial.toml"))))


@given(data=st.binary(max_size=80))
def test_any_bytes_in_a_file_give_a_bench_or_faults(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toml"
        path.write_bytes(data)
        with pytest.raises(SettingsError):
            load_bench(path)


Slip = Callable[[dict[str, Any]], object]

# Each slip goes with the place at which it must be told, whatever else is wrong. They are chosen
# so that none takes away the ground on which another stands.
SLIPS: dict[str, Slip] = {
    "trial.title": lambda t: t["trial"].update(title="\x07"),
    "trial.unchecked": lambda t: t["trial"].update(unchecked="no"),
    "trial.weather": lambda t: t["trial"].update(weather="fair"),
    "panel.material": lambda t: t["panel"].update(material=3),
    "panel.name": lambda t: t["panel"].pop("name"),
    "treatment": lambda t: t["treatment"][2].update(control=True),
    "treatment[6]": lambda t: t["treatment"].append({"id": "gull", "name": "Gull"}),
    "treatment[1].name": lambda t: t["treatment"][1].pop("name"),
    "zone[6].treatment": lambda t: t["zone"].append({"id": "C1", "treatment": "absent"}),
    "zone[0].id": lambda t: t["zone"][0].update(id="A 1"),
    "zone[4].id": lambda t: t["zone"][4].update(id="B1"),
    "zone[5].place": lambda t: t["zone"][5].update(place="left"),
    "measure[0].stages[1]": lambda t: t["measure"][0].update(stages=["bare", "later"]),
    "measure[0].replicates": lambda t: t["measure"][0].update(replicates=0),
    "measure[0].margin": lambda t: t["measure"][0].update(margin=Decimal("-0.5")),
    "measure[1].geometry": lambda t: t["measure"][1].pop("geometry"),
    "measure[1].id": lambda t: t["measure"][1].update(id="gloss-20"),
    "measure[2].sled.mass": lambda t: t["measure"][2]["sled"].update(mass="203"),
    "measure[2].sled.corrections[2]": lambda t: t["measure"][2]["sled"]["corrections"].append("x"),
    "measure[2].sled.window.length_mm": lambda t: t["measure"][2]["sled"]["window"].update(
        length_mm=0
    ),
    "colour": lambda t: t.update(colour="blue"),
}


@given(chosen=st.sets(st.sampled_from(sorted(SLIPS)), min_size=1))
def test_every_slip_of_a_file_with_many_is_told_and_nothing_else(chosen: set[str]) -> None:
    table = copy.deepcopy(EXAMPLES[TrialFile])
    for place in chosen:
        SLIPS[place](table)
    # The control is counted among all treatments, so one more or less moves no other place.
    _, faults = survey(TrialFile, table)
    # A single [panel] is read as a list of one, and told as it is written.
    assert {as_written(fault).path for fault in faults} == chosen
    assert len(faults) == len(chosen)


BIDI_OVERRIDES = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
ON_ONE_LINE = st.characters(
    exclude_categories=["Cc", "Cs", "Zl", "Zp"], exclude_characters=BIDI_OVERRIDES
)
NAMES = st.text(ON_ONE_LINE, min_size=1, max_size=200).filter(str.strip)


@given(name=NAMES)
def test_any_name_on_one_line_comes_through_unharmed(name: str) -> None:
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    text = (config_dir() / "boatyard" / "trial.toml").read_text(encoding="utf-8")
    plan = parse_plan(text.replace('"Grebe wax"', f'"{quoted}"'), "trial.toml")
    assert isinstance(plan, Plan)
    assert plan.treatments[1].name == name


@given(digits=st.integers(-(10**9), 10**9), decimals=st.integers(1, 12), positive=st.booleans())
def test_a_number_with_a_point_keeps_every_digit(
    digits: int, decimals: int, positive: bool
) -> None:
    written = f"{Decimal(digits).scaleb(-decimals):f}"
    table = parse_toml(f"x = {'+' if positive and digits >= 0 else ''}{written}\n", "x.toml")
    assert f"{table['x']:f}" == written


def test_dates_and_times_are_no_numbers_and_no_names() -> None:
    for value in (date(2030, 1, 1), time(12, 0), datetime(2030, 1, 1, tzinfo=UTC)):
        table = copy.deepcopy(EXAMPLES[TrialFile])
        table["trial"]["title"] = value
        table["measure"][0]["margin"] = value
        _, faults = survey(TrialFile, table)
        assert {f.path for f in faults} == {"trial.title", "measure[0].margin"}
        assert {f.got for f in faults} == {value.isoformat()}
