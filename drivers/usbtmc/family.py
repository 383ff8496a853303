"""The usbtmc family: devices of the USB test and measurement class. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from acquire.driverapi import Driver, UsbNeeds
from acquire.errors import Fault, SettingsError
from acquire.schema import read, show
from drivers.usbtmc.codec import Codec
from drivers.usbtmc.driver import UsbtmcDriver
from drivers.usbtmc.profile import UsbtmcProfile, from_tables
from drivers.usbtmc.tables import ProfileTables


class UsbtmcFamily:
    """Implements `acquire.driverapi.Family`."""

    name = "usbtmc"
    api = 1
    reaches = ("usb fe/03",)

    def needs(self, profile: Mapping[str, object], source: str) -> UsbNeeds:
        """The class's interface. Raises `SettingsError` with every fault of the profile."""
        return load(profile, source).needs

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A driver for one connection. Raises `SettingsError` as `needs` does."""
        return UsbtmcDriver(load(profile, source))


def load(table: Mapping[str, object], source: str) -> UsbtmcProfile:
    """The profile of a parsed TOML table. Raises `SettingsError` with every fault.

    A profile proves itself: each example in it must be understood as what it stands for.
    """
    tables = read(ProfileTables, table, source)
    profile = from_tables(tables)
    if faults := list(_misread_examples(tables, profile)):
        raise SettingsError(source, faults)
    return profile


def _misread_examples(tables: ProfileTables, profile: UsbtmcProfile) -> Iterator[Fault]:
    codec = Codec(profile)
    for index, answer in enumerate(tables.answer):
        if answer.example is None:
            continue
        result = codec.result(answer.example.encode("utf-8"))
        path = f"answer[{index}].example"
        if isinstance(result, str):
            got = f"{show(answer.example)} ({result})"
            yield Fault(path, got, "an answer that its pattern understands")
        elif bool(result.heard) != (answer.means == "reading"):
            got = f"{show(answer.example)}, which an earlier pattern takes otherwise"
            yield Fault(path, got, f"an answer that is understood as {answer.means}")
