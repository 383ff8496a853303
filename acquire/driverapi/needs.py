"""What a driver needs of its link, as data: the link is opened by somebody else."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Parity(StrEnum):
    """Parity of a serial line."""

    NONE = "none"
    EVEN = "even"
    ODD = "odd"


@dataclass(frozen=True, slots=True)
class LinkNeeds:
    """Settings of a serial line; a network link ignores all but nothing breaks by them.

    `write_timeout_s` bounds how long a device may refuse to take bytes before the link counts
    as lost. Bytes are taken in stretches of `gather_s` where a device streams; 0 takes them as
    they come.
    """

    baud_rate: int = 9600
    data_bits: int = 8
    parity: Parity = Parity.NONE
    stop_bits: float = 1
    flow_control: bool = False
    write_timeout_s: float = 2.0
    gather_s: float = 0.0


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
