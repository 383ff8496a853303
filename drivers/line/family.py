"""The line family: text lines that a profile describes. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from acquire.driverapi import Driver, LinkNeeds
from acquire.driverkit import FramedDriver, Heard, Means
from acquire.driverkit.together import Together, once_a_press
from acquire.errors import Fault, SettingsError
from acquire.model import STROKE
from acquire.schema import read, show
from acquire.wire import LineFramer
from drivers.line.codec import Codec
from drivers.line.profile import LineProfile, from_tables
from drivers.line.tables import ProfileTables
from drivers.line.whole import Whole


class LineFamily:
    """Implements `acquire.driverapi.Family`."""

    name = "line"
    api = 1

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        """The profile's line settings. Raises `SettingsError` with every fault of the profile."""
        return load(profile, source).needs

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A driver for one connection. Raises `SettingsError` as `needs` does."""
        return driver_of(load(profile, source))


def driver_of(profile: LineProfile) -> Driver:
    """A driver of one connection."""
    framer = LineFramer(
        profile.terminator,
        profile.limit_bytes,
        profile.line_timeout_s,
        skip_tail=profile.proof is None,
        refuse_empty=profile.refuses_empty,
    )
    if profile.together_s and profile.lines_of_press:
        whole = Whole(profile)
        together = Together(framer, profile.together_s, whole.judge)
        manners = once_a_press(profile.manners, profile.together_s)
        return FramedDriver(together, whole.decode, manners)
    return FramedDriver(framer, Codec(profile).decode, profile.manners)


def load(table: Mapping[str, object], source: str) -> LineProfile:
    """The profile of a parsed TOML table. Raises `SettingsError` with every fault.

    A profile proves itself: each example in it must be understood as what it stands for.
    """
    tables = read(ProfileTables, table, source)
    profile = from_tables(tables)
    if faults := list(_misread_examples(tables, profile)):
        raise SettingsError(source, faults)
    return profile


def _is_meant(heard: Heard, means: Means) -> bool:
    if means is Means.STROKE:
        # It is given on as a reading of one stroke.
        return heard.means is Means.READING and heard.channel == STROKE
    return heard.means is means and heard.channel != STROKE


def _misread_examples(tables: ProfileTables, profile: LineProfile) -> Iterator[Fault]:
    codec = Codec(profile)
    for index, message in enumerate(tables.message):
        if message.example is None:
            continue
        path = f"message[{index}].example"
        line = message.example.encode("utf-8")
        heard = codec.decode(line, message.in_press[0] if message.in_press else 0)
        if len(line) > profile.limit_bytes:
            yield Fault(
                path, f"{len(line)} bytes", f"at most max_line_bytes, {profile.limit_bytes}"
            )
        elif isinstance(heard, str):
            got = f"{show(message.example)} ({heard})"
            yield Fault(path, got, "a line that its pattern understands, without its terminator")
        elif not _is_meant(heard[-1], message.means):
            got = f"{show(message.example)}, which an earlier pattern takes as {heard[-1].means}"
            yield Fault(path, got, f"a line that is understood as {message.means}")
