"""What a driver needs of its link, as data: the link is opened by somebody else."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Parity(StrEnum):
    """Parity of a serial line."""

    NONE = "none"
    EVEN = "even"
    ODD = "odd"


USUAL_BAUD_RATE = 9600
"""Common practice, no source."""


@dataclass(frozen=True, slots=True)
class LinkNeeds:
    """Settings of a serial line; a network link ignores all but nothing breaks by them.

    `baud_rate` None is not declared: a serial port is opened at `USUAL_BAUD_RATE` then, and what
    is sent can be held against nothing. `has_line` False: the device is on the network itself, and
    no serial line is behind it that could have a speed.
    `write_timeout_s` bounds how long a device may refuse to take bytes before the link counts
    as lost. Bytes are taken in stretches of `gather_s` where a device streams; 0 takes them as
    they come.
    """

    baud_rate: int | None = None
    data_bits: int = 8
    parity: Parity = Parity.NONE
    stop_bits: float = 1
    flow_control: bool = False
    write_timeout_s: float = 2.0
    gather_s: float = 0.0
    has_line: bool = True

    @property
    def port_baud_rate(self) -> int:
        """What a serial port is opened at."""
        return USUAL_BAUD_RATE if self.baud_rate is None else self.baud_rate

    @property
    def lacks_speed(self) -> bool:
        """Whether there is a line whose speed nobody declared."""
        return self.has_line and self.baud_rate is None


@dataclass(frozen=True, slots=True)
class UsbNeeds:
    """Which interface of a USB device a driver speaks to, by the class codes of usb.org.

    `protocol` None takes any. `listens`: packets of the interrupt pipe are read without being
    asked for. `timeout_s` bounds each transfer that is asked for. What passes on such a link is
    described in `acquire.wire.transfer`.
    """

    interface_class: int
    interface_subclass: int
    protocol: int | None = None
    listens: bool = True
    timeout_s: float = 2.0


@dataclass(frozen=True, slots=True)
class TypedNeeds:
    """Nothing but a person: what the instrument shows is typed, one line an entry.

    What passes is ASCII ended by a line feed, and nothing that such a driver sends gets anywhere.
    """


Needs = LinkNeeds | UsbNeeds | TypedNeeds
