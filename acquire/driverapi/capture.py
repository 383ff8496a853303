"""Captures: a stretch of a conversation with a device, and the facts it means, written by hand.

A capture is read from a table of this form. Texts stand for bytes, character by character: the
character 255 is the byte 255.

    [[step]]                    # in order
    after_s = 0.5               # seconds since the step before; 0 if left out
    sent = "?\\r"               # what the host sends; may be left out
    received = "NONE\\r"        # what the device sends after that; may be left out
    take = true                 # the host was told to take a reading; may be left out

    [[fact]]                    # in order
    is = "reading"              # with raw, text, value, unit, channel, press, flags
    ...                         # or "noise" with raw; or "notice" with kind, raw, text;
                                # or "spectrum" with raw, text (its type), value (its bytes in
                                # hexadecimal digits), unit, press, flags; or "samples" with
                                # raw = "", text ("from" and the number of the first), value (all of
                                # them as whole steps), unit

Pure; any thread.
"""

from __future__ import annotations

from array import array
from collections.abc import Mapping
from sys import byteorder
from typing import Any, NamedTuple

from acquire.model import Fact, Noise, Reading, Samples, Spectrum


class Step(NamedTuple):
    """One exchange: `after_s` seconds after the step before, `sent` went out, `received` came.

    `takes`: `sent` is what the driver gave when it was told to take a reading.
    """

    after_s: float
    sent: bytes
    received: bytes
    takes: bool = False


class Expected(NamedTuple):
    """A fact as a capture words it: what it is, and all of it but its time and place."""

    what: str
    raw: bytes
    text: str = ""
    value: str = ""
    unit: str = ""
    channel: str = ""
    press: int | None = None
    flags: frozenset[str] = frozenset()


class Capture(NamedTuple):
    """A conversation and what it means."""

    name: str
    steps: tuple[Step, ...]
    facts: tuple[Expected, ...]

    @property
    def received(self) -> bytes:
        """Everything that the device sent."""
        return b"".join(step.received for step in self.steps)


def capture(table: Mapping[str, Any], name: str) -> Capture:
    """A capture from its table. Raises KeyError, TypeError or ValueError if it is none."""
    return Capture(
        name,
        tuple(
            Step(
                float(step.get("after_s", 0)),
                step.get("sent", "").encode("latin-1"),
                step.get("received", "").encode("latin-1"),
                step.get("take", False),
            )
            for step in table["step"]
        ),
        tuple(_expected(fact) for fact in table["fact"]),
    )


def worded(fact: Fact) -> Expected:
    """A fact as a capture would word it."""
    if isinstance(fact, Reading):
        value = "" if fact.value is None else str(fact.value)
        return Expected(
            "reading",
            fact.raw,
            fact.text,
            value,
            fact.unit,
            fact.channel,
            fact.press,
            frozenset(flag.value for flag in fact.flags),
        )
    if isinstance(fact, Noise):
        return Expected("noise", fact.raw)
    if isinstance(fact, Spectrum):
        # Its values as digits of their bytes: as long as they are, they are compared to the last.
        flags = frozenset(flag.value for flag in fact.flags)
        shown = fact.values.hex()
        return Expected(
            "spectrum", fact.raw, fact.type.value, shown, fact.unit, "", fact.press, flags
        )
    if isinstance(fact, Samples):
        counts = array("i", fact.counts)
        if byteorder == "big":
            counts.byteswap()
        shown = " ".join(map(str, counts))
        return Expected("samples", b"", f"from {fact.first}", shown, fact.unit, fact.channel)
    return Expected(fact.kind.value, fact.raw, fact.text)


def _expected(table: Mapping[str, Any]) -> Expected:
    known = {"is", "kind", "raw", "text", "value", "unit", "channel", "press", "flags"}
    if strange := set(table) - known:
        raise ValueError(f"a fact of a capture has no {strange.pop()}")
    what = table["is"]
    return Expected(
        table["kind"] if what == "notice" else what,
        table["raw"].encode("latin-1"),
        table.get("text", ""),
        table.get("value", ""),
        table.get("unit", ""),
        table.get("channel", ""),
        table.get("press"),
        frozenset(table.get("flags", ())),
    )
