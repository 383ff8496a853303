"""The hid family: devices of the USB human interface class that report figures. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.driverapi import Driver, UsbNeeds
from acquire.schema import read
from drivers.hid.driver import HidDriver
from drivers.hid.profile import HidProfile, from_tables
from drivers.hid.tables import ProfileTables


class HidFamily:
    """Implements `acquire.driverapi.Family`."""

    name = "hid"
    api = 1
    reaches = ("usb 03/00",)

    def needs(self, profile: Mapping[str, object], source: str) -> UsbNeeds:
        """The class's interface. Raises `SettingsError` with every fault of the profile."""
        return load(profile, source).needs

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A driver for one connection. Raises `SettingsError` as `needs` does."""
        return HidDriver(load(profile, source))


def load(table: Mapping[str, object], source: str) -> HidProfile:
    """The profile of a parsed TOML table. Raises `SettingsError` with every fault."""
    return from_tables(read(ProfileTables, table, source))
