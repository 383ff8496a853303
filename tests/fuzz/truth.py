"""What a driver may say of bytes: held against profile and captures, without asking the driver.

Of a wire with a checksum a value must come from bytes whose checksum is right, and bytes that were
sent mean what the capture says and nothing else. Bytes that were never sent and whose checksum is
right all the same are a *chance hit*: no driver can tell them, and they are counted. One byte that
was changed is no chance: every checksum here finds it. Without a checksum a value must be what
the grammar of the profile allows, within its range.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from acquire.driverapi.capture import Expected, worded
from acquire.model import Fact, Notice, Quantity, Reading, Samples, Spectrum
from acquire.model.fact import RAW_COUNTS
from acquire.units import units_of
from acquire.wire import CHECKSUMS
from tests.fuzz.subjects import Subject

_NUMBER = re.compile(r" *[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[Ee][+-]?\d{1,3})? *", re.ASCII)
_SIZES = {"8": 2**8, "16": 2**16, "32": 2**32, "64": 2**64}


class Truth:
    """What may be said with one profile. `chance_hits` counts what no checksum can tell."""

    def __init__(self, subject: Subject) -> None:
        self._family = subject.family.name
        self._table = subject.table
        self._quantity = Quantity(subject.table["kind"])
        self._units = set(units_of(self._quantity))
        self._words = set(_words(subject.table)) | {""}
        if self._quantity is Quantity.STROKES:
            # Its lines of strokes, where it has any, or its running count.
            self._words |= {"total"}
        self._meanings: dict[bytes, set[tuple[str, str, str, str]]] = {}
        for fact in subject.sent:
            if fact.what == "reading":
                self._meanings.setdefault(fact.raw, set()).add(_meaning(fact))
        self._streams = [
            b"".join(step.received for step in steps) for steps in subject.conversations
        ]
        self._patterns = [
            re.compile(message["pattern"])
            for message in subject.table.get("message", ())
            if "pattern" in message and message["means"] in ("reading", "sample")
        ]
        self._strokes = [
            re.compile(message["pattern"])
            for message in subject.table.get("message", ())
            if message["means"] == "stroke"
        ]
        self._largest = _largest(subject.table)
        self.has_checksum = "checksum" in self._table or self._table.get("transport") == "rtu"
        self.chance_hits = 0

    def faults(self, facts: Iterable[Fact]) -> Iterator[str]:
        """Why facts are not what may be said; nothing where they are."""
        for fact in facts:
            if isinstance(fact, Reading | Samples | Spectrum):
                if fact.quantity is not self._quantity:
                    yield f"{fact.quantity} of a meter for {self._quantity}"
                is_raw = isinstance(fact, Spectrum) and fact.unit == RAW_COUNTS
                if fact.unit not in self._units and not is_raw:
                    yield f"the unit {fact.unit!r}"
            if isinstance(fact, Reading):
                yield from self._reading(fact)
            elif isinstance(fact, Notice) and not self._may_be_told(fact.raw):
                yield f"{fact.kind} of {fact.raw!r}, whose checksum is wrong"

    def _reading(self, fact: Reading) -> Iterator[str]:
        if fact.channel not in self._words and not self._is_band(fact.channel):
            yield f"the channel {fact.channel!r}, which is none of the profile"
        if self.has_checksum and fact.raw:
            yield from self._proven(fact)
        if fact.value is None:
            return
        if not fact.value.is_finite() or abs(fact.value) > self._largest:
            yield f"{fact.value}, where {self._largest} is the most that can be sent"
        match self._family:
            case "line" if fact.raw:
                yield from self._of_line(fact)
            case "keyed":
                yield from self._of_entry(fact)
            case "line" | "usbtmc":
                if _NUMBER.fullmatch(fact.text) is None or _decimal(fact.text) != fact.value:
                    yield f"{fact.value} of the text {fact.text!r}"

    def _proven(self, fact: Reading) -> Iterator[str]:
        if not self._is_sound(fact.raw):
            yield f"{fact.text!r} of {fact.raw!r}, whose checksum is wrong"
            return
        meanings = self._meanings.get(fact.raw)
        if meanings is None:
            if any(fact.raw in stream for stream in self._streams):
                return  # sent where it counted for nothing, as a result of before
            if any(_is_one_byte_off(fact.raw, sent) for sent in self._meanings):
                yield f"{fact.text!r} of {fact.raw!r}, one byte beside what was sent"
            else:
                self.chance_hits += 1
        elif _meaning(worded(fact)) not in meanings:
            yield f"{_meaning(worded(fact))} of {fact.raw!r}, which means {sorted(meanings)}"

    def _of_line(self, fact: Reading) -> Iterator[str]:
        table = self._table
        raw = fact.raw
        if (proof := table.get("checksum")) is not None:
            raw = raw.rpartition(proof["after"].encode())[0]
        line = raw.decode(table["text"].get("encoding", "ascii"))
        for pattern in self._strokes:
            if pattern.fullmatch(line) is not None:
                if (fact.text, fact.value, fact.channel) != (line, 1, "stroke"):
                    yield f"{fact.value} ({fact.text!r}) of {line!r}, which is one stroke"
                return
        for pattern in self._patterns:
            if (found := pattern.fullmatch(line)) is not None:
                values = {v.strip(" ") for k, v in found.groupdict().items() if v and "value" in k}
                if fact.text not in values or _decimal(fact.text) != fact.value:
                    yield f"{fact.value} ({fact.text!r}) of {line!r}"
                return
        yield f"{fact.value} of {line!r}, which is no line of the profile"

    def _of_entry(self, fact: Reading) -> Iterator[str]:
        entry = self._table["entry"]
        assert fact.value is not None
        if not Decimal(str(entry["low"])) <= fact.value <= Decimal(str(entry["high"])):
            yield f"{fact.value}, outside of what the profile allows"
        if fact.value % Decimal(str(entry["step"])):
            yield f"{fact.value}, between the steps of {entry['step']}"
        if fact.text.encode() not in fact.raw or _decimal(fact.text) != fact.value:
            yield f"{fact.value} ({fact.text!r}) of {fact.raw!r}"

    def _may_be_told(self, raw: bytes) -> bool:
        return not raw or not self.has_checksum or self._is_sound(raw)

    def _is_sound(self, raw: bytes) -> bool:
        """Whether the checksum in these bytes is that of the others."""
        proof = self._table.get("checksum")
        if proof is None:  # Modbus over serial line V1.02, 2.5.1.2: CRC, low byte first
            return CHECKSUMS["crc16-modbus"].of(raw[:-2]) == int.from_bytes(raw[-2:], "little")
        checksum = CHECKSUMS[proof["kind"]]
        if self._family == "line":
            head, _, told = raw.rpartition(proof["after"].encode())
            return f"{checksum.of(head):0{checksum.width_bits // 4}X}" == told.decode().upper()
        size = checksum.width_bits // 8
        at = proof["at"] % len(raw)
        covered = raw[proof["first"] : proof["last"] % len(raw) + 1]
        wanted = checksum.of(covered)
        if proof.get("sent") == "negate":
            wanted = -wanted % 2**checksum.width_bits
        elif proof.get("sent") == "complement":
            wanted ^= 2**checksum.width_bits - 1
        return int.from_bytes(raw[at : at + size], proof.get("order", "big")) == wanted

    def _is_band(self, channel: str) -> bool:
        bands = self._table.get("band", ())
        return isinstance(bands, list) and any(
            channel == band.get("name", f"{band.get('from_nm')}-{band.get('to_nm')}")
            for band in bands
        )


def _meaning(fact: Expected) -> tuple[str, str, str, str]:
    return fact.text, fact.value, fact.unit, fact.channel


def _decimal(text: str) -> Decimal:
    return Decimal(text.strip(" ").replace(",", "."))


def _is_one_byte_off(raw: bytes, sent: bytes) -> bool:
    return len(raw) == len(sent) and sum(a != b for a, b in zip(raw, sent, strict=True)) == 1


def _words(table: Any) -> Iterator[str]:
    """Everything that stands in a profile, as text."""
    if isinstance(table, dict):
        for key, value in table.items():
            yield str(key)
            yield from _words(value)
    elif isinstance(table, list):
        for value in table:
            yield from _words(value)
    else:
        yield str(table)


def _largest(table: Any) -> Decimal:
    """More than this no field of the profile can carry."""
    # Text and floating point have no range but what is beyond all measure to the guard.
    most = Decimal(10) ** 31
    fields = [f for m in table.get("message", ()) for f in m.get("value", ())]
    fields += [f for f in table.get("value", ()) if isinstance(f, dict)]
    bounds = []
    for field in fields:
        kind = str(field.get("type", ""))
        size = next((s for bits, s in _SIZES.items() if kind == f"int{bits}"), None)
        size = size or next((s for bits, s in _SIZES.items() if kind == f"uint{bits}"), None)
        if size is None:
            return most
        bounds.append(size * abs(Decimal(str(field.get("scale", 1)))))
    return max(bounds, default=most)
