"""The plumb family: profiles read, drivers made. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from acquire.driverapi import Driver, LinkNeeds
from acquire.driverkit import FramedDriver
from acquire.driverkit.tables import DeviceTables
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import read, rule, show
from acquire.wire import LineFramer
from coatbench_driver_plumb.codec import END, LONGEST_BYTES, Codec

ENDED_WITHIN_S = 0.5


class PlumbTables(DeviceTables):
    """The profile of one model: the tables that all profiles have, and these rules."""

    @rule
    def only_forces_are_spoken(self) -> Iterator[Fault]:
        if self.kind is not Quantity.FORCE:
            yield Fault("kind", show(self.kind.value), '"force": plumb has no other messages')

    @rule
    def units_stand_behind_every_value(self) -> Iterator[Fault]:
        if not self.unit.tokens:
            yield Fault("unit.tokens", "nothing", 'the letters of its units, as n = "newton"')


class PlumbFamily:
    """Implements `acquire.driverapi.Family`."""

    name = "plumb"
    api = 1
    reaches = ("serial",)

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        """The profile's line settings. Raises `SettingsError` with every fault of the profile."""
        return read(PlumbTables, profile, source).needs()

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A driver for one connection. Raises `SettingsError` as `needs` does."""
        tables = read(PlumbTables, profile, source)
        framer = LineFramer(END, LONGEST_BYTES, ENDED_WITHIN_S)
        codec = Codec(tables.unit.tokens)
        return FramedDriver(framer, codec.decode, tables.manners(has_count=True))
