"""What the packages of force, transmission, frames and Modbus say of themselves is all there is."""

from __future__ import annotations

import argparse
from types import ModuleType

import pytest

import simulators
from simulators import beside, force, frames, gloss, modbus, transmission
from simulators.beside import __main__ as beside_main
from simulators.force.__main__ import parser as force_parser
from simulators.frames import __main__ as frames_main
from simulators.modbus import __main__ as modbus_main
from simulators.program import Held
from simulators.transmission.__main__ import parser as transmission_parser

PARSERS = [
    (force, force_parser()),
    (transmission, transmission_parser()),
    (frames, frames_main.parser()),
    (modbus, modbus_main.parser()),
    (beside, beside_main.parser()),
]
OPTIONS = [
    (package, word)
    for package, parser in PARSERS
    for action in parser._actions
    if not isinstance(action, argparse._HelpAction)
    for word in action.option_strings
]


def benches() -> list[tuple[ModuleType, Held]]:
    found: list[tuple[ModuleType, Held]] = []
    for package, main in (
        (frames, frames_main),
        (modbus, modbus_main),
        (beside, beside_main),
    ):
        for layout, make in main.BENCHES.items():
            options = main.parser().parse_args(["--layout", layout, "--serial", "S-1"])
            found.append((package, make(options)))
    return found


def name_of(what: object) -> str:
    """The same in every process, as several share the tests."""
    if isinstance(what, ModuleType):
        return what.__name__.rpartition(".")[2]
    return what if isinstance(what, str) else what.device.layout  # type: ignore[attr-defined]


# The acts of a kind are described where that kind is at home.
HOMES = {
    "gloss": gloss,
    "force": force,
    "bands": transmission,
    "transmission": transmission,
    **dict.fromkeys(("strokes", "total", "counter", "climate"), beside),
}


@pytest.mark.parametrize(("package", "word"), OPTIONS, ids=name_of)
def test_every_option_is_described(package: ModuleType, word: str) -> None:
    assert word in (package.__doc__ or "")


@pytest.mark.parametrize(("package", "bench"), benches(), ids=name_of)
def test_every_act_of_a_device_is_described(package: ModuleType, bench: Held) -> None:
    said = (package.__doc__ or "") + (HOMES[bench.device.layout].__doc__ or "")
    assert [act for act in bench.acts if f"\n`{act}`" not in said] == []


@pytest.mark.parametrize("package", [force, transmission, frames, modbus], ids=name_of)
def test_every_kind_is_in_the_table_of_kinds(package: ModuleType) -> None:
    assert f"\n`{package.__name__.rpartition('.')[2]}`" in (simulators.__doc__ or "")
