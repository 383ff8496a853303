"""A usbtmc profile as codec and driver use it: frozen, checked, compiled. Pure; any thread."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import ceil

from acquire.driverapi import UsbNeeds
from acquire.driverkit import PressRules
from acquire.driverkit.pattern import compiled
from acquire.model import EvenGrid, Flag, Quantity
from acquire.wire import ClosedTable
from acquire.wire.definite import Numbers
from drivers.usbtmc.tables import VALUE, VALUE_AT, ProfileTables

INTERFACE_CLASS = 0xFE
INTERFACE_SUBCLASS = 0x03
"""Application specific, test and measurement (USBTMC 1.00, table 43)."""


@dataclass(frozen=True, slots=True)
class Band:
    name: str
    from_nm: float
    to_nm: float


@dataclass(frozen=True, slots=True)
class SpectrumForm:
    """How a spectrum is sent: what stands before its block, and what the numbers in it are.

    `scale` is that of integers as a fraction (numerator, denominator). `ends` are what may stand
    behind the block: a line feed, as IEEE 488.2 has it (8.5), or nothing with devices that do not
    send it. One that does and falls short of a byte must not have its line feed taken as data.
    """

    head: re.Pattern[str]
    numbers: Numbers
    scale: tuple[int, int]
    extremes: tuple[int, int] | None
    bands: tuple[Band, ...]
    ends: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class AskedGrid:
    """Wavelengths that the device is asked for: as a text by a pattern, or as a block."""

    command: bytes
    pattern: re.Pattern[str] | None
    scale: tuple[int, int]


@dataclass(frozen=True, slots=True)
class AskedBeam:
    """Commands that ask for the dark and the open beam that the device keeps, in counts."""

    dark: bytes
    open: bytes


@dataclass(frozen=True, slots=True)
class Answer:
    """A kind of text answer. `values` names the groups of its values, each with its channel."""

    text: re.Pattern[str]
    is_reading: bool
    values: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Poll:
    """What is asked on its own. Without a command the status byte, without a pattern a result."""

    every_ns: int
    command: bytes
    pattern: re.Pattern[str] | None
    fresh: frozenset[str]


@dataclass(frozen=True, slots=True)
class StatusBits:
    """Masks of the status byte, 0 where it has no such bit."""

    ready: int
    adjusted: int
    error: int


@dataclass(frozen=True, slots=True)
class UsbtmcProfile:
    """How one model talks. Commands that it does not know are empty."""

    needs: UsbNeeds
    quantity: Quantity
    unit: str
    transfer_bytes: int
    answer_bytes: int
    answer_tries: int
    silent_after: int
    identify: bytes
    start: tuple[bytes, ...]
    status: StatusBits | None
    error: bytes
    error_press: re.Pattern[str] | None
    adjusted: bytes
    fetch: bytes
    take: bytes
    poll: Poll | None
    presses: PressRules
    spectrum: SpectrumForm | None
    grid: EvenGrid | AskedGrid | None
    beam: AskedBeam | None
    answers: tuple[Answer, ...]
    out_of_range: ClosedTable[Flag]


def from_tables(tables: ProfileTables) -> UsbtmcProfile:
    """The profile of tables that have no fault."""
    timeout_s = float(tables.usb.timeout_s)
    status = tables.status
    first_is_echo = tables.press.first_after_connect_is_echo
    return UsbtmcProfile(
        needs=UsbNeeds(
            INTERFACE_CLASS, INTERFACE_SUBCLASS, None, status is not None, timeout_s=timeout_s
        ),
        quantity=tables.kind,
        unit=tables.unit,
        transfer_bytes=tables.usb.transfer_bytes,
        answer_bytes=tables.usb.answer_bytes,
        answer_tries=max(1, ceil(float(tables.times.within_s) / timeout_s)),
        silent_after=tables.times.silent_after,
        identify=_bytes(tables.identify.command if tables.identify else ""),
        start=tuple(map(_bytes, tables.start.commands if tables.start else ())),
        status=None
        if status is None
        else StatusBits(_mask(status.ready), _mask(status.adjusted), _mask(status.error)),
        error=_bytes(tables.error.command),
        error_press=None if tables.error.press is None else compiled(tables.error.press),
        adjusted=_bytes(tables.adjusted.command if tables.adjusted else ""),
        fetch=_bytes(tables.fetch.command if tables.fetch else ""),
        take=_bytes(tables.take.command if tables.take else ""),
        poll=_poll(tables),
        presses=PressRules(
            has_count=tables.is_counted,
            echo_window_s=float(tables.press.echo_window_s),
            repeat_window_s=float(tables.press.repeat_window_s),
            highest_count=tables.press.highest_count,
            lowest_count=tables.press.lowest_count,
            proven_count=tables.press.proven_count,
            may_be_packed=tables.press.may_be_packed,
            first_is_echo=_first_is_echo(tables) if first_is_echo is None else first_is_echo,
        ),
        spectrum=_spectrum(tables),
        grid=_grid(tables),
        beam=None
        if tables.counts is None
        else AskedBeam(_bytes(tables.counts.dark), _bytes(tables.counts.open)),
        answers=tuple(
            Answer(
                compiled(answer.pattern),
                answer.means == "reading",
                tuple(
                    (group, tables.channels.get(group.removeprefix(VALUE).removeprefix("_"), ""))
                    for group in compiled(answer.pattern).groupindex
                    if group == VALUE or group.startswith(VALUE_AT)
                ),
            )
            for answer in tables.answer
        ),
        out_of_range=ClosedTable(
            [
                *((token, Flag.OVER_RANGE) for token in dict.fromkeys(tables.over)),
                *((token, Flag.UNDER_RANGE) for token in dict.fromkeys(tables.under)),
            ]
        ),
    )


def _first_is_echo(tables: ProfileTables) -> bool:
    """A result asked for in a rhythm, or flagged as new, may have been there before.

    One that the device announces was not, nor one whose count differs from the first count.
    """
    poll = tables.poll
    if poll is None or poll.command is None:
        return False
    return poll.pattern is None or "count" not in compiled(poll.pattern).groupindex


def _poll(tables: ProfileTables) -> Poll | None:
    poll = tables.poll
    if poll is None:
        return None
    pattern = None if poll.pattern is None else compiled(poll.pattern)
    every_ns = round(float(poll.every_s) * 1e9)
    return Poll(every_ns, _bytes(poll.command or ""), pattern, frozenset(poll.fresh))


def _spectrum(tables: ProfileTables) -> SpectrumForm | None:
    table = tables.spectrum
    if table is None:
        return None
    numbers = Numbers(table.form, table.order)
    half = 1 << (8 * numbers.width_bytes - 1)
    return SpectrumForm(
        compiled(table.head),
        numbers,
        table.scale.as_integer_ratio(),
        None if numbers.is_real else (-half, half - 1),
        tuple(Band(b.called, float(b.from_nm), float(b.to_nm)) for b in tables.band),
        (b"\n", b"\r\n") if table.line_feed else (b"",),
    )


def _grid(tables: ProfileTables) -> EvenGrid | AskedGrid | None:
    table = tables.wavelengths
    if table is None:
        return None
    if table.command is None:
        assert table.start_nm is not None
        assert table.step_nm is not None
        return EvenGrid(float(table.start_nm), float(table.step_nm))
    pattern = None if table.pattern is None else compiled(table.pattern)
    return AskedGrid(_bytes(table.command), pattern, table.scale.as_integer_ratio())


def _mask(bit: int | None) -> int:
    return 0 if bit is None else 1 << bit


def _bytes(command: str) -> bytes:
    return command.encode("latin-1")
