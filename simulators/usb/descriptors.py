"""The descriptors of a simulated device (USB 2.0, 9.6): as values, as bytes, as pyusb reads them.

Pure.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from types import SimpleNamespace

BULK, INTERRUPT = 2, 3
IN = 0x80
ENGLISH = 0x0409
"""The language identifier of English (United States), as in the usb.org list of LANGIDs."""

MANUFACTURER, PRODUCT, SERIAL_NUMBER = 1, 2, 3
"""Indices of a device's texts."""


@dataclass(frozen=True)
class Endpoint:
    """A pipe's end; `kind` is `BULK` or `INTERRUPT`."""

    address: int
    kind: int
    packet_bytes: int = 64
    interval: int = 0

    def to_bytes(self) -> bytes:
        """USB 2.0, table 9-13."""
        return struct.pack(
            "<BBBBHB", 7, 5, self.address, self.kind, self.packet_bytes, self.interval
        )

    def view(self) -> SimpleNamespace:
        return SimpleNamespace(
            bLength=7,
            bDescriptorType=5,
            bEndpointAddress=self.address,
            bmAttributes=self.kind,
            wMaxPacketSize=self.packet_bytes,
            bInterval=self.interval,
            bRefresh=0,
            bSynchAddress=0,
            extra_descriptors=[],
        )


@dataclass(frozen=True)
class Interface:
    """One setting of an interface; `extra` are class descriptors that follow it."""

    number: int
    class_code: int
    subclass: int
    protocol: int
    endpoints: tuple[Endpoint, ...] = ()
    alternate: int = 0
    extra: bytes = b""

    def to_bytes(self) -> bytes:
        """USB 2.0, table 9-12, with what follows it."""
        head = struct.pack(
            "<BBBBBBBBB",
            9,
            4,
            self.number,
            self.alternate,
            len(self.endpoints),
            self.class_code,
            self.subclass,
            self.protocol,
            0,
        )
        return head + self.extra + b"".join(e.to_bytes() for e in self.endpoints)

    def view(self) -> SimpleNamespace:
        return SimpleNamespace(
            bLength=9,
            bDescriptorType=4,
            bInterfaceNumber=self.number,
            bAlternateSetting=self.alternate,
            bNumEndpoints=len(self.endpoints),
            bInterfaceClass=self.class_code,
            bInterfaceSubClass=self.subclass,
            bInterfaceProtocol=self.protocol,
            iInterface=0,
            extra_descriptors=list(self.extra),
        )


@dataclass(frozen=True)
class Configuration:
    """One configuration; several settings of an interface share its number."""

    interfaces: tuple[Interface, ...]
    value: int = 1

    def settings(self, number: int) -> list[Interface]:
        """All settings of one interface."""
        return [i for i in self.interfaces if i.number == number]

    @property
    def numbers(self) -> list[int]:
        """The numbers of its interfaces, in order."""
        return list(dict.fromkeys(i.number for i in self.interfaces))

    def to_bytes(self) -> bytes:
        """USB 2.0, table 9-10, with what follows it."""
        rest = b"".join(i.to_bytes() for i in self.interfaces)
        return (
            struct.pack(
                "<BBHBBBBB", 9, 2, 9 + len(rest), len(self.numbers), self.value, 0, 0x80, 50
            )
            + rest
        )

    def view(self) -> SimpleNamespace:
        return SimpleNamespace(
            bLength=9,
            bDescriptorType=2,
            wTotalLength=len(self.to_bytes()),
            bNumInterfaces=len(self.numbers),
            bConfigurationValue=self.value,
            iConfiguration=0,
            bmAttributes=0x80,
            bMaxPower=50,
            extra_descriptors=[],
        )


@dataclass(frozen=True)
class Descriptors:
    """A whole device; a text of None is one that it does not have."""

    vid: int
    pid: int
    configurations: tuple[Configuration, ...]
    manufacturer: str | None = None
    product: str | None = None
    serial_number: str | None = None
    language: int = ENGLISH

    def to_bytes(self) -> bytes:
        """USB 2.0, table 9-8: a full-speed device of USB 2.0, release 1.00."""
        return struct.pack(
            "<BBHBBBBHHHBBBB",
            18,
            1,
            0x0200,
            0,
            0,
            0,
            64,
            self.vid,
            self.pid,
            0x0100,
            self._index(MANUFACTURER),
            self._index(PRODUCT),
            self._index(SERIAL_NUMBER),
            len(self.configurations),
        )

    def text(self, index: int) -> bytes | None:
        """A text's descriptor (USB 2.0, 9.6.7); index 0 is the table of languages."""
        if index == 0:
            body = self.language.to_bytes(2, "little")
        else:
            text = self._texts().get(index)
            if text is None:
                return None
            body = text.encode("utf-16-le")
        return bytes((len(body) + 2, 3)) + body

    def view(self, bus: int, address: int) -> SimpleNamespace:
        return SimpleNamespace(
            bLength=18,
            bDescriptorType=1,
            bcdUSB=0x0200,
            bDeviceClass=0,
            bDeviceSubClass=0,
            bDeviceProtocol=0,
            bMaxPacketSize0=64,
            idVendor=self.vid,
            idProduct=self.pid,
            bcdDevice=0x0100,
            iManufacturer=self._index(MANUFACTURER),
            iProduct=self._index(PRODUCT),
            iSerialNumber=self._index(SERIAL_NUMBER),
            bNumConfigurations=len(self.configurations),
            address=address,
            bus=bus,
            port_number=address,
            port_numbers=(address,),
            speed=2,
        )

    def _texts(self) -> dict[int, str | None]:
        return {
            MANUFACTURER: self.manufacturer,
            PRODUCT: self.product,
            SERIAL_NUMBER: self.serial_number,
        }

    def _index(self, index: int) -> int:
        return 0 if self._texts()[index] is None else index
