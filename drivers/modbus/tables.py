"""The rules between the entries of a Modbus profile, before anything is made of them.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.driverkit.fields import (
    CHANNEL_KEYS,
    CHANNEL_WORDS,
    STATES,
    UNITS,
)
from acquire.errors import Fault
from acquire.schema import either, rule, show, sound
from drivers.modbus.contradictions import contradictions
from drivers.modbus.entries import BandTable, Entries, GeometryTable, PartTable


class ModbusTables(Entries):
    """All entries of a profile, held against one another."""

    @rule
    def the_unit_address_is_one_of_the_transport(self) -> Iterator[Fault]:
        # 0 is everybody on a serial line and 248 to 255 are reserved there; on TCP 0 and 255 mean
        # the device itself, without a gateway (Implementation Guide V1.0b, chapter 4.4.2.1).
        unit, is_rtu = self.unit_address, self.transport == "rtu"
        if not (1 <= unit <= 247 or (not is_rtu and unit in (0, 255))):
            wanted = "1 to 247" if is_rtu else "1 to 247, or 0 or 255 for a device without gateway"
            yield Fault("unit_address", show(unit), wanted)

    @rule
    def a_serial_line_has_settings(self) -> Iterator[Fault]:
        if self.transport == "tcp":
            if self.line is not None:
                yield Fault("line", "a table", 'none: transport = "tcp" has no serial line')
            return
        if self.line is None:
            wanted = "a table with baud_rate and parity as in the device's manual"
            yield Fault("line", "nothing", wanted)
        elif self.line.data_bits != 8:
            wanted = "8: Modbus RTU sends bytes of 8 bits"
            yield Fault("line.data_bits", show(self.line.data_bits), wanted)

    @rule
    def an_old_result_can_be_told_from_a_new_one(self) -> Iterator[Fault]:
        if self.count is not None and self.ready is not None:
            yield Fault("ready", "a table beside count", "one of both: the count says more")
        if self.is_state:
            for name in ("count", "ready", "take"):
                if getattr(self, name) is not None:
                    wanted = f"none: the registers of a {self.kind} say how it stands at any moment"
                    yield Fault(name, "a table", wanted)
        elif self.count is None and self.ready is None and self.take is None:
            wanted = (
                "a count of presses, or a ready bit, without which an old result looks like a new "
                "one; or a [take], and then only what was taken with it is read"
            )
            yield Fault("count", "nothing", wanted)

    @rule
    def counts_and_codes_are_whole_numbers(self) -> Iterator[Fault]:
        places = [("count", self.count), ("adjusted", self.adjusted)]
        places += [("unit.at", self.unit.at), ("geometry.at", self.geometry.at)]
        places += [("band.at", self.band.at), ("part.at", self.part.at)]
        for name, place in places:
            if place is not None and not place.type.is_whole:
                yield Fault(f"{name}.type", show(place.type), "uint16 and its like, or bcd16")

    @rule
    def every_value_has_a_unit_of_its_kind(self) -> Iterator[Fault]:
        known, unit = UNITS[self.kind], self.unit
        named = [("unit.default", unit.default)]
        named += [(f"unit.codes.{code}", name) for code, name in unit.codes.items()]
        named += [(f"value[{i}].unit", one.unit) for i, one in sound(self.value, "unit")]
        for path, name in named:
            if name is not None and name not in known:
                yield Fault(path, show(name), f"{either(known)} for {self.kind}")
        if (unit.at is None) != (not unit.codes):
            missing = "unit.at" if unit.at is None else "unit.codes"
            yield Fault(missing, "nothing", "at and codes together")
        if unit.at is not None and unit.default is not None:
            yield Fault("unit.default", show(unit.default), "none: unit.at says the unit")
        for i, one in sound(self.value, "unit"):
            if one.unit is None and unit.default is None and unit.at is None:
                yield Fault(f"value[{i}].unit", "nothing", f"{either(known)}, or unit.at")

    @rule
    def every_value_has_the_channel_of_its_kind(self) -> Iterator[Fault]:
        own = self.channel_key
        named = (("geometry", self.geometry), ("band", self.band), ("part", self.part))
        for key, table in named:
            if key != own:
                if table.at is not None or table.codes:
                    yield Fault(key, "a table", f"none: {self.kind} has no {key}")
                for i, one in sound(self.value, key):
                    if (found := getattr(one, key)) is not None:
                        wanted = f"none: {self.kind} has no {key}"
                        yield Fault(f"value[{i}].{key}", show(found), wanted)
            elif (table.at is None) != (not table.codes):
                missing = "at" if table.at is None else "codes"
                yield Fault(f"{key}.{missing}", "nothing", "at and codes together")
        if not own:
            if len(self.value) > 1:
                yield Fault("value", f"{len(self.value)} values", f"one for {self.kind}")
            return
        channels, example = self.channels, CHANNEL_WORDS[own]
        seen: dict[str | None, int] = {}
        for i, one in sound(self.value, own):
            path, channel = f"value[{i}].{own}", getattr(one, own)
            if channel is None and channels.at is None:
                yield Fault(path, "nothing", f"{example}, or {own}.at")
            elif channel is None and len(self.value) > 1:
                yield Fault(path, "nothing", f"{example}: one code cannot say it of several values")
            elif (earlier := seen.setdefault(channel, i)) != i:
                yield Fault(path, show(channel), f"another one than value[{earlier}] has")

    @rule
    def no_register_is_read_as_two_things(self) -> Iterator[Fault]:
        yield from contradictions(self)

    @property
    def channel_key(self) -> str:
        """What a channel is called here: geometry, band, or nothing."""
        return CHANNEL_KEYS.get(self.kind, "")

    @property
    def channels(self) -> GeometryTable | BandTable | PartTable:
        """The register that tells the channel, with its codes."""
        if self.channel_key == "part":
            return self.part
        return self.band if self.channel_key == "band" else self.geometry

    @property
    def is_state(self) -> bool:
        """Whether its registers say how it stands now, so that none holds an old result."""
        return self.kind in STATES

    @rule
    def windows_belong_to_meters_that_send_by_themselves(self) -> Iterator[Fault]:
        press = self.press
        for name in ("echo_window_s", "repeat_window_s"):
            if value := getattr(press, name):
                wanted = "0: a Modbus device speaks only when it is asked"
                yield Fault(f"press.{name}", show(value), wanted)
        if press.lowest_count != 1:
            wanted = "1: a count of 0 means that there was no press since power-on"
            yield Fault("press.lowest_count", show(press.lowest_count), wanted)
        if self.count is None:
            yield from press.unfit(is_counted=False, count="a [count]")
