"""The keyed family: instruments without a port, by a profile. Pure; any thread."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.driverapi import Driver, TypedNeeds
from acquire.schema import read
from drivers.keyed.driver import KeyedDriver
from drivers.keyed.profile import KeyedProfile, from_tables
from drivers.keyed.tables import ProfileTables


class KeyedFamily:
    """Implements `acquire.driverapi.Family`."""

    name = "keyed"
    api = 1
    reaches: tuple[str, ...] = ()
    """Nothing that can be plugged in."""

    def needs(self, profile: Mapping[str, object], source: str) -> TypedNeeds:
        """A person who types. Raises `SettingsError` with every fault of the profile."""
        load(profile, source)
        return TypedNeeds()

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A driver for one connection. Raises `SettingsError` as `needs` does."""
        return KeyedDriver(load(profile, source))


def load(table: Mapping[str, object], source: str) -> KeyedProfile:
    """The profile of a parsed TOML table. Raises `SettingsError` with every fault."""
    return from_tables(read(ProfileTables, table, source))
