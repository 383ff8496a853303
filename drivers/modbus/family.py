"""The Modbus family: registers that a profile describes. Pure; any thread."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.driverapi import Driver, LinkNeeds
from acquire.schema import read
from drivers.modbus.driver import ModbusDriver
from drivers.modbus.profile import ModbusProfile, from_tables
from drivers.modbus.tables import ModbusTables


class ModbusFamily:
    """Implements `acquire.driverapi.Family`."""

    name = "modbus"
    api = 1
    is_asked = True

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        """The profile's line settings. Raises `SettingsError` with every fault of the profile."""
        return load(profile, source).needs

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A driver for one connection. Raises `SettingsError` as `needs` does."""
        return ModbusDriver(load(profile, source))


def load(table: Mapping[str, object], source: str) -> ModbusProfile:
    """The profile of a parsed TOML table. Raises `SettingsError` with every fault."""
    return from_tables(read(ModbusTables, table, source))
