"""Driver plug-ins: the good are found, the broken named and contained."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from importlib.metadata import EntryPoint, distributions
from pathlib import Path

import pytest

from acquire.cli.driver import list_rows
from acquire.driverapi import Family
from acquire.driverapi.families import known_families
from acquire.driverapi.registry import ALONE_S, GROUP, Registry, faults_of, installed
from acquire.errors import DriverError
from acquire.pipeline.watch import HANGS_AFTER_S
from drivers.line import FAMILY
from tests.patience import PATIENCE_S

AT_ONCE_S = 0.05


def point(name: str, value: str) -> EntryPoint:
    return EntryPoint(name, value, GROUP)


LINE = point("line", "drivers.line:FAMILY")

PLUGIN = """
class Family:
    name = "odd"
    api = 1
    def needs(self, profile, source): ...
    def driver(self, profile, source): ...

class Old(Family):
    api = 0

class Deaf(Family):
    def driver(self): ...

class Mute:
    name = "odd"
    api = 1

class Trap(Family):
    @property
    def api(self):
        raise RuntimeError("do not look at me")

GOOD, OLD, DEAF, MUTE, TRAP = Family(), Old(), Deaf(), Mute(), Trap()
"""


@pytest.fixture
def plugins(tmp_path: Path) -> Iterator[None]:
    """A folder of modules that a stranger wrote, importable for one test."""
    (tmp_path / "odd_plugin.py").write_text(PLUGIN)
    (tmp_path / "odd_crash.py").write_text("1 / 0")
    (tmp_path / "odd_syntax.py").write_text("def (:")
    (tmp_path / "odd_exit.py").write_text("raise SystemExit(3)")
    before = set(sys.modules)
    sys.path.insert(0, str(tmp_path))
    yield
    sys.path.remove(str(tmp_path))
    for name in set(sys.modules) - before:
        if name.startswith("odd_"):
            del sys.modules[name]


def test_the_line_family_is_found_and_fits() -> None:
    assert Registry([LINE]).family("line") is FAMILY
    assert isinstance(FAMILY, Family)
    assert list(faults_of(FAMILY, "line")) == []


def test_an_absent_driver_is_told_with_those_that_are_there() -> None:
    with pytest.raises(DriverError, match="there is no driver 'fog'") as caught:
        Registry([LINE, point("other", "x:Y")]).family("fog")
    assert caught.value.wanted == "line, other"
    with pytest.raises(DriverError, match="install the package"):
        Registry([]).family("line")


@pytest.mark.usefixtures("plugins")
@pytest.mark.parametrize(
    ("value", "got"),
    [
        ("odd_absent:FAMILY", "odd_absent"),
        ("odd_crash:FAMILY", "ZeroDivisionError"),
        ("odd_syntax:FAMILY", "SyntaxError"),
        ("odd_exit:FAMILY", "SystemExit"),
        ("odd_plugin:NOTHING", "NOTHING"),
        ("odd_plugin:Family", "a class"),
        ("odd_plugin:OLD", "interface 0"),
        ("odd_plugin:DEAF", "driver() does not take profile, source"),
        ("odd_plugin:MUTE", "no needs(); it has no driver()"),
        ("odd_plugin:TRAP", "do not look at me"),
    ],
)
def test_a_broken_plugin_is_named_and_the_others_go_on(value: str, got: str) -> None:
    registry = Registry([point("odd", value), LINE])
    with pytest.raises(DriverError, match="the driver 'odd'") as caught:
        registry.family("odd")
    assert got in caught.value.got
    assert value in caught.value.what
    assert "update or uninstall" in caught.value.next_step
    assert registry.family("line") is FAMILY


@pytest.mark.usefixtures("plugins")
def test_a_plugin_under_another_name_than_its_own_is_refused() -> None:
    assert Registry([point("odd", "odd_plugin:GOOD")]).family("odd").name == "odd"
    with pytest.raises(DriverError, match="calls itself 'odd'"):
        Registry([point("even", "odd_plugin:GOOD")]).family("even")


def test_two_packages_that_bring_one_name_are_both_named_and_neither_is_used() -> None:
    with pytest.raises(DriverError, match="several packages") as caught:
        Registry([point("fog", "here:FAMILY"), point("fog", "elsewhere:FAMILY")]).family("fog")
    assert "here:FAMILY" in caught.value.got
    assert "elsewhere:FAMILY" in caught.value.got


def test_a_driver_of_this_house_goes_before_one_of_its_name() -> None:
    registry = Registry([point("line", "elsewhere:FAMILY"), LINE])
    assert registry.family("line") is FAMILY
    assert registry.origin("line") == registry.values("line")[0] == "drivers.line:FAMILY"
    assert registry.left_out("line") == "elsewhere:FAMILY"
    assert registry.left_out("fog") == ""
    rows = list_rows(known_families(registry))
    assert "elsewhere:FAMILY is not used: uninstall it" in rows[1][-1]


def test_one_package_that_is_found_twice_is_one() -> None:
    assert Registry([LINE, LINE]).family("line") is FAMILY


def test_a_package_with_a_damaged_list_of_its_drivers_is_named_and_hides_no_other(
    tmp_path: Path,
) -> None:
    for name, text in (("sound", "[acquire.drivers]\nplumb = plumb:FAMILY\n"),
                       ("spoiled", "[acquire.drivers]\n=\x00 no line\nplumb\n")):  # fmt: skip
        folder = tmp_path / f"{name}-1.0.dist-info"
        folder.mkdir()
        (folder / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
        (folder / "entry_points.txt").write_text(text)
    found, broken = installed(distributions(path=[str(tmp_path)]))
    assert [point.name for point in found] == ["plumb"]
    assert broken == ("spoiled",)


class Imported(EntryPoint):
    """An entry point of the line family whose import does something first."""

    def first(self, act: Callable[[], object]) -> Imported:
        vars(self)["act"] = act
        return self

    def load(self) -> object:
        vars(self)["act"]()
        return FAMILY


def test_drivers_that_sessions_ask_for_at_once_are_imported_one_after_the_other() -> None:
    begun, told = threading.Event(), list[bool]()
    second = Registry([Imported("line", "second:FAMILY", GROUP).first(begun.set)])
    other = threading.Thread(target=second.family, args=("line",))

    def look() -> None:
        other.start()
        told.append(begun.wait(AT_ONCE_S))

    Registry([Imported("line", "first:FAMILY", GROUP).first(look)]).family("line")
    assert begun.wait(PATIENCE_S)
    other.join()
    assert told == [False]


def test_an_import_that_hangs_has_no_other_driver_named_as_one_that_hangs() -> None:
    assert 2 * ALONE_S < HANGS_AFTER_S
    hangs, goes_on = threading.Event(), threading.Event()

    def hang() -> None:
        hangs.set()
        goes_on.wait(PATIENCE_S)

    stranger = Registry([Imported("line", "stranger:FAMILY", GROUP).first(hang)])
    held_up = threading.Thread(target=stranger.family, args=("line",))
    held_up.start()
    try:
        assert hangs.wait(PATIENCE_S)
        assert Registry([LINE]).family("line") is FAMILY
        assert held_up.is_alive()
    finally:
        goes_on.set()
        held_up.join()
