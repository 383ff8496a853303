"""The frame family: binary frames that a profile describes. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from acquire.driverapi import Driver, LinkNeeds
from acquire.driverkit import Decoder, FramedDriver, Heard, Means
from acquire.driverkit.together import Together, once_a_press, refused, several
from acquire.errors import Fault, SettingsError
from acquire.model import Instant
from acquire.schema import read
from acquire.wire import BlockFramer, Frame
from drivers.frame.codec import Codec
from drivers.frame.fields import shown
from drivers.frame.profile import FrameProfile, from_tables
from drivers.frame.tables import ProfileTables

_TROUBLE = "the device tells of trouble beside it"


class FrameFamily:
    """Implements `acquire.driverapi.Family`."""

    name = "frame"
    api = 1

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        """The profile's line settings. Raises `SettingsError` with every fault of the profile."""
        return load(profile, source).needs

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """A driver for one connection. Raises `SettingsError` as `needs` does."""
        return driver_of(load(profile, source))


def driver_of(profile: FrameProfile) -> Driver:
    """A driver of one connection."""
    framer = BlockFramer(profile.shape, profile.silence_s)
    decode = Codec(profile).decode
    if profile.is_together:
        together = Together(framer, profile.silence_s, lambda frames, _: judged(frames, decode))
        manners = once_a_press(profile.manners, profile.silence_s)
        return FramedDriver(together, decode, manners)
    return FramedDriver(framer, decode, profile.manners)


def judged(frames: list[Frame], decode: Decoder) -> list[Frame]:
    """The frames of a press: all of them faulty where one is none, or of no kind.

    Where one tells of trouble, those with values are.
    """
    heard = [frame.fault or decode(frame.data) for frame in frames]
    if why := next((one for one in heard if isinstance(one, str)), ""):
        return refused(frames, why if len(frames) == 1 else f"beside what is no frame: {why}")
    pairs = zip(frames, heard, strict=True)
    if why := several([(f.data, one) for f, one in pairs if not isinstance(one, str)]):
        return refused(frames, why)
    if not any(_is_trouble(one) for one in heard):
        return frames
    return [
        frame if _is_trouble(one) else frame._replace(fault=_TROUBLE)
        for frame, one in zip(frames, heard, strict=True)
    ]


def _is_trouble(heard: list[Heard] | str) -> bool:
    return not isinstance(heard, str) and any(one.means is Means.TROUBLE for one in heard)


def load(table: Mapping[str, object], source: str) -> FrameProfile:
    """The profile of a parsed TOML table. Raises `SettingsError` with every fault.

    A profile proves itself: each example in it must be one whole frame, and understood as what it
    stands for.
    """
    tables = read(ProfileTables, table, source)
    profile = from_tables(tables)
    if faults := list(_misread_examples(tables, profile)):
        raise SettingsError(source, faults)
    return profile


def _misread_examples(tables: ProfileTables, profile: FrameProfile) -> Iterator[Fault]:
    decode = Codec(profile).decode
    for index, message in enumerate(tables.message):
        example = message.example
        if example is None:
            continue
        path, at = f"message[{index}].example", Instant(0, 0)
        framer = BlockFramer(profile.shape, profile.silence_s)
        silence_ns = round(profile.silence_s * 1e9)
        frames = framer.feed(example, at) + framer.expire(Instant(silence_ns, silence_ns))
        got = shown(example[:8]) + (" ..." if len(example) > 8 else "")
        if len(frames) != 1 or frames[0].fault:
            why = next((frame.fault for frame in frames if frame.fault), "several frames")
            yield Fault(path, f"{got} ({why})", "one whole frame")
            continue
        heard = decode(example)
        if isinstance(heard, str):
            yield Fault(path, f"{got} ({heard})", "a frame that is understood")
        elif heard[-1].means is not message.means:
            got = f"{got}, which is taken as {heard[-1].means}"
            yield Fault(path, got, f"a frame that is understood as {message.means}")
