"""What is fuzzed: each shipped profile with the family that takes it and conversations to spoil."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache, partial
from typing import Any, NamedTuple

from acquire.driverapi import Driver, Family, UsbNeeds
from acquire.driverapi.capture import Capture, Expected, Step
from acquire.driverapi.registry import Registry
from acquire.errors import SettingsError
from acquire.schema import load_toml
from acquire.settings import config_dir
from drivers.frame import family as frame
from drivers.hid import family as hid
from drivers.keyed import family as keyed
from drivers.line import family as line
from drivers.modbus import family as modbus
from drivers.usbtmc import family as usbtmc
from tests.captures import EVERY

# A profile is read once and not for every connection: reading it costs more than the bytes.
_MAKERS: dict[str, tuple[Callable[..., Any], Callable[..., Driver]]] = {
    "frame": (frame.load, frame.driver_of),
    "hid": (hid.load, hid.HidDriver),
    "keyed": (keyed.load, keyed.KeyedDriver),
    "line": (line.load, line.driver_of),
    "modbus": (modbus.load, modbus.ModbusDriver),
    "usbtmc": (usbtmc.load, usbtmc.UsbtmcDriver),
}

TYPED = (b"91.4\n", b"91.4\n", b"60 91.4\n", b"60 91.4\n", b"12,02\n", b"OL\n", b"----\n",
         b"12.0 88.1 90.2\n", b"12.0 88.1 90.2\n", b"adjusted\n", b"off\n")  # fmt: skip
"""What people type where no capture says it."""


class Subject(NamedTuple):
    """A profile under test. `sent` are the facts that the captures of it mean."""

    family: Family
    profile: str
    table: dict[str, Any]
    conversations: list[list[Step]]
    sent: tuple[Expected, ...]
    is_records: bool
    driver: Callable[[], Driver]


@cache
def subjects() -> list[Subject]:
    """Every shipped profile, in the order of families and names."""
    registry = Registry()
    paths = sorted((config_dir() / "profiles").glob("*.toml"))
    tables = {path.stem: load_toml(path) for path in paths}
    found = [
        _subject(registry.family(name), profile, table)
        for name in registry.names
        for profile, table in tables.items()
        if _takes(registry.family(name), table)
    ]
    assert {one.profile for one in found} == set(tables), "a profile that no family takes"
    return found


def _takes(family: Family, table: dict[str, Any]) -> bool:
    try:
        family.driver(table, "profile")
    except SettingsError:
        return False
    return True


def _subject(family: Family, profile: str, table: dict[str, Any]) -> Subject:
    captures: list[Capture] = [one.capture for one in EVERY if one.profile == profile]
    conversations = [list(one.steps) for one in captures]
    if examples := list(_examples(family.name, table)):
        conversations.append([Step(0.7, b"", data) for data in examples])
    sent = tuple(fact for one in captures for fact in one.facts)
    is_records = isinstance(family.needs(table, profile), UsbNeeds)
    load, driver_of = _MAKERS[family.name]
    driver = partial(driver_of, load(table, profile))
    return Subject(family, profile, table, conversations, sent, is_records, driver)


def _examples(family: str, table: dict[str, Any]) -> Iterator[bytes]:
    """The messages that a profile itself shows."""
    if family == "keyed":
        yield from TYPED
    for message in table.get("message", ()):
        example = message.get("example")
        if example and family == "line":
            yield (example + table["text"]["terminator"]).encode()
        elif example and family == "frame":
            yield bytes.fromhex(example)
