"""The link of an instrument as written in ``bench.toml``: how the device is found. Pure."""

from __future__ import annotations

import os.path
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal
from urllib.parse import urlsplit

from pydantic import AfterValidator, Field

from acquire.errors import Fault
from acquire.model import LinkAddress
from acquire.schema import Schema, either, rule, show

_USB_ID = re.compile(r"(?:0[xX])?([0-9A-Fa-f]{4})")
_USB_WORDS = 'four hexadecimal digits in quotes, such as "1a2b"'
_SCHEMES = ("socket", "rfc2217", "loop")
_URL_WORDS = "socket://HOST:PORT or rfc2217://HOST:PORT"
_LONGEST = 1000


def _usb_id(value: str) -> str:
    found = _USB_ID.fullmatch(value)
    if found is None:
        raise ValueError(_USB_WORDS)
    return found[1].lower()


_WINDOWS_PORT = re.compile(r"(?:\\\\\.\\)?COM\d+", re.IGNORECASE)


def _on_one_line(value: str) -> str:
    if not value.strip() or len(value) > _LONGEST or not value.isprintable():
        raise ValueError("text on one line without control characters")
    return value


def _port(value: str) -> str:
    if "://" in value:
        raise ValueError(
            "a device path such as /dev/serial/by-id/... or COM3 (a URL goes under url)"
        )
    return _on_one_line(value)


def _url(value: str) -> str:
    try:
        parts = urlsplit(_on_one_line(value))
        whole = parts.hostname is not None and parts.port is not None
    except ValueError:
        raise ValueError(_URL_WORDS) from None
    if parts.scheme not in _SCHEMES or (parts.scheme != "loop" and not whole):
        raise ValueError(_URL_WORDS)
    return value


UsbId = Annotated[str, AfterValidator(_usb_id), Field(description=_USB_WORDS)]


class LinkTable(Schema):
    serial_number: Annotated[str, AfterValidator(_on_one_line)] | None = None
    vid: UsbId | None = None
    pid: UsbId | None = None
    port: Annotated[str, AfterValidator(_port)] | None = None
    url: Annotated[str, AfterValidator(_url)] | None = None
    typed: Literal[True] | None = None

    @rule
    def one_way_to_find_it(self) -> Iterator[Fault]:
        identity = [
            key for key in ("serial_number", "vid", "pid") if getattr(self, key) is not None
        ]
        ways = [
            *(["/".join(identity)] if identity else []),
            *(key for key in ("port", "url", "typed") if getattr(self, key) is not None),
        ]
        if len(ways) != 1:
            got = either(ways, "and") if ways else "nothing"
            yield Fault(
                "",
                got,
                "one way to find the device: serial_number and/or vid with pid, port, or url; or "
                "typed = true for one without a port",
            )

    @rule
    def vid_with_pid(self) -> Iterator[Fault]:
        if (self.vid is None) != (self.pid is None):
            lone, other = ("vid", "pid") if self.pid is None else ("pid", "vid")
            yield Fault(other, "nothing", f"the {other} that belongs to the {lone}")

    def address(self, beside: Path | None = None) -> LinkAddress:
        """The address; only of a table without faults.

        A port that is a relative path starts at the folder `beside`, like the file's other paths;
        the name of a Windows port stays as it is.
        """
        pairs = (("serial_number", self.serial_number), ("vid", self.vid), ("pid", self.pid))
        identity = {key: value for key, value in pairs if value is not None}
        port = self.port
        if port is not None and beside is not None and not _WINDOWS_PORT.fullmatch(port):
            port = str(beside / port)
        return LinkAddress(identity or None, port, self.url, self.typed is True)


def may_be_same(one: LinkAddress, other: LinkAddress) -> bool:
    """Whether two addresses can lead to one device.

    An identity that says less than another fits whatever the other fits; two port names can be
    links to one port. What is typed goes to the instrument that is named with it, and to no other.
    """
    if one.identity is not None and other.identity is not None:
        a, b = set(one.identity.items()), set(other.identity.items())
        return a <= b or b <= a
    if one.port is not None and other.port is not None:
        return os.path.realpath(one.port) == os.path.realpath(other.port)
    return one.url is not None and one.url == other.url and not one.url.startswith("loop:")


def same_link_words(index: int, address: LinkAddress) -> str:
    """What is wanted of a link that another instrument has already."""
    return f"a device of its own: instrument[{index}] is at {show(str(address))}"
