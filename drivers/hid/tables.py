"""The rules between the entries of a hid profile, before anything is made of them.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.driverkit.fields import CHANNEL_KEYS, UNITS
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import either, rule, show, sound
from drivers.hid.contradictions import contradictions
from drivers.hid.entries import Entries, FlagMeans, PressBy


class ProfileTables(Entries):
    """All entries of a profile, held against one another."""

    @rule
    def nothing_is_said_twice_and_differently(self) -> Iterator[Fault]:
        yield from contradictions(self)

    @rule
    def there_are_values(self) -> Iterator[Fault]:
        if (self.weighing is None) == (not self.value):
            got = "neither" if self.weighing is None else "both"
            yield Fault("value", got, "a table [weighing], or a [[value]] at least")

    @rule
    def a_mass_is_a_force_only_if_the_profile_says_so(self) -> Iterator[Fault]:
        if self.weighing is None:
            return
        if self.kind is not Quantity.FORCE:
            yield Fault("weighing", "a table", f"none: no weighing device measures {self.kind}")
        elif self.weighing.mass_is is None:
            wanted = (
                '"force" if what pulls or presses is meant: the usages of weighing devices are '
                "masses, and grams are read as gram-force then"
            )
            yield Fault("weighing.mass_is", "nothing", wanted)

    @rule
    def every_value_has_unit_and_channel_of_the_kind(self) -> Iterator[Fault]:
        seen: dict[str, int] = {}
        key = CHANNEL_KEYS.get(self.kind, "")
        for index, value in sound(self.value, "unit", "geometry", "band", "usage"):
            path = f"value[{index}]"
            if value.unit is None and value.usage is None:
                yield Fault(f"{path}.unit", "nothing", f"{either(UNITS[self.kind])}")
            if value.unit is not None and value.unit not in UNITS[self.kind]:
                wanted = f"{either(UNITS[self.kind])} for {self.kind}"
                yield Fault(f"{path}.unit", show(value.unit), wanted)
            for name, channel in (("geometry", value.geometry), ("band", value.band)):
                if (channel is not None) != (name == key):
                    got = "nothing" if channel is None else show(channel)
                    wanted = f"a {name}" if name == key else f"none: {self.kind} has no {name}"
                    yield Fault(f"{path}.{name}", got, wanted)
            if seen.setdefault(value.channel, index) != index:
                got = show(value.channel) if value.channel else "a second value"
                yield Fault(path, got, "one value for each channel")

    @rule
    def a_scale_is_not_on_top_of_a_unit_of_the_device(self) -> Iterator[Fault]:
        for index, value in sound(self.value, "unit", "scale"):
            if value.unit is None and value.scale is not None:
                wanted = "none: without unit the device says both unit and scale"
                yield Fault(f"value[{index}].scale", show(value.scale), wanted)

    @rule
    def what_makes_a_press_is_there(self) -> Iterator[Fault]:
        means = {flag.means for _, flag in sound(self.flag, "means")}
        by = self.press.by
        if by is PressBy.STABLE and self.weighing is None:
            for needed in (FlagMeans.STABLE, FlagMeans.MOVING):
                if needed not in means:
                    yield Fault("flag", "none", f'a [[flag]] with means = "{needed}"')
        if (by is PressBy.BUTTON) != (FlagMeans.BUTTON in means):
            got = "none" if by is PressBy.BUTTON else "a button"
            wanted = 'a [[flag]] with means = "button" with press.by = "button", and with no other'
            yield Fault("flag", got, wanted)
        if by is PressBy.TAKE and self.take is None:
            yield Fault("take", "nothing", "a table: only a command brings values")
        if (by is PressBy.STREAM) != (self.stream is not None):
            got = "nothing" if self.stream is None else "a table"
            yield Fault("stream", got, 'a table with press.by = "stream", and with no other')

    @rule
    def a_sample_is_one_value(self) -> Iterator[Fault]:
        if self.press.by is PressBy.STREAM and len(self.value) > 1:
            yield Fault("value", f"{len(self.value)} values", "one: a stream has one channel")
        if self.press.by is PressBy.STREAM and self.take is not None:
            yield Fault("take", "a table", "none: a stream is never taken from")

    @rule
    def presses_are_told_apart_in_one_way(self) -> Iterator[Fault]:
        press = self.press
        yield from press.unfit(is_counted=self.count is not None, count="a [count] in the report")
        if self.count is not None and press.by is not PressBy.REPORT:
            yield Fault(
                "count", "a table", f'none but with press.by = "report", this is {press.by}'
            )
