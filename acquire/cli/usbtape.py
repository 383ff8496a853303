"""The tape of a USB device, of which nothing can be learned: what it is and what to do instead."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from acquire.errors import Misuse

if TYPE_CHECKING:
    from acquire.link.tape import Tape

_HID, _TEST = "hid", "usbtmc"
_MEANS = {
    _HID: "where each number stands in its reports",
    _TEST: "what it is asked and where the number stands in its answer",
}


def refuse_usb(tape: Tape, path: Path) -> None:
    """Raises `Misuse` where records of USB transfers are on a tape, and not the bytes of a line."""
    driver = _driver_of(tape)
    if driver is None:
        return
    whose = tape.whose
    of = "" if whose is None else f" of {whose.instrument}, driver {whose.driver!r}"
    raise Misuse(
        f"{path} is the tape of a USB device, and only what comes over a line can be learned",
        got=f"transfers with {tape.where}{of}",
        wanted="the tape of a serial port or of an address on the network",
        next_step=f'use the driver "{driver}": copy the nearest of its profiles in config/profiles '
        f"({_profiles(driver)}) to a name of yours, and write {_MEANS[driver]} there, by its "
        f"manual or by what coatbench tape show {path} --hex shows",
    )


def _profiles(driver: str) -> str:
    from acquire.settings import config_dir  # noqa: PLC0415 - slow

    return ", ".join(
        path.name for path in sorted((config_dir() / "profiles").glob(f"{driver}-*.toml"))
    )


def _driver_of(tape: Tape) -> str | None:
    """The driver for the USB device behind a tape; None where a line was behind it."""
    from acquire.link.tape import RECEIVED  # noqa: PLC0415 - slow
    from acquire.wire.transfer import Description, Pipe, TransferReader  # noqa: PLC0415

    if tape.whose is not None and tape.whose.driver in _MEANS:
        return tape.whose.driver
    reader = TransferReader()
    for passed in tape.passed:
        if passed.direction != RECEIVED:
            continue
        found = reader.feed(passed.data)
        if found and found[0].pipe is Pipe.OPENED:
            try:
                has_bulk = bool(Description.from_bytes(found[0].data).bulk_in)
            except ValueError:
                return None
            return _TEST if has_bulk else _HID
        if found or reader.fault:
            return None
    return None
