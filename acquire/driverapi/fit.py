"""What a driver hands over is looked at before it goes any further.

A plug-in is somebody else's code. A value that is no Decimal, a count beyond what a row can hold
or a stretch of bytes that was never received would otherwise stop the recorder, and with it every
other instrument. Pure; one guard a connection, one thread.
"""

from __future__ import annotations

from decimal import Decimal

from acquire.errors import DriverError
from acquire.model import Fact, Flag, Instant, Noise, Notice, NoticeKind, Quantity, Reading

_RANGE = frozenset((Flag.OVER_RANGE, Flag.UNDER_RANGE))
_HIGHEST_PRESS = 2**63 - 1
_LONGEST_TEXT = 4096
_MOST_DIGITS = 40
_LARGEST_EXPONENT = 30


def misfit(fact: object) -> str:
    """Why this is no fact that a driver may give; empty if it is one."""
    if not isinstance(fact, Reading | Noise | Notice):
        return f"{type(fact).__name__} where a Reading, Noise or Notice belongs"
    raw, start, end = fact.raw, fact.start, fact.end
    if type(raw) is not bytes or type(start) is not int or type(end) is not int:
        return "raw that is no bytes, or start or end that is no int"
    if end - start != len(raw):
        return f"{len(raw)} raw bytes from {start} to {end}"
    if type(fact.at) is not Instant:
        return f"at = {_shown(fact.at)}, which is no Instant"
    if isinstance(fact, Reading):
        return _misfit_reading(fact)
    if isinstance(fact, Noise):
        return _misfit_text("reason", fact.reason)
    if type(fact.kind) is not NoticeKind:
        return f"kind = {_shown(fact.kind)}, which is no NoticeKind"
    return _misfit_text("text", fact.text)


def _misfit_reading(reading: Reading) -> str:
    value, flags = reading.value, reading.flags
    if type(flags) is not frozenset or not all(type(flag) is Flag for flag in flags):
        return f"flags = {_shown(flags)}, which is no frozenset of Flag"
    if value is None:
        if flags.isdisjoint(_RANGE):
            return "no value and no range flag"
    elif type(value) is not Decimal or not value.is_finite():
        return f"value = {_shown(value)}, which is no finite Decimal"
    elif not flags.isdisjoint(_RANGE):
        return "a value and a range flag"
    elif abs(value.adjusted()) > _LARGEST_EXPONENT or len(value.as_tuple().digits) > _MOST_DIGITS:
        return f"value = {_shown(value)}, beyond all measure"
    if type(reading.quantity) is not Quantity:
        return f"quantity = {_shown(reading.quantity)}, which is no Quantity"
    press = reading.press
    if press is not None and (type(press) is not int or not 0 <= press <= _HIGHEST_PRESS):
        return f"press = {_shown(press)}, which is no count"
    return (
        _misfit_text("text", reading.text)
        or _misfit_text("unit", reading.unit)
        or _misfit_text("geometry", reading.geometry)
    )


def _misfit_text(name: str, text: object) -> str:
    if type(text) is not str:
        return f"{name} = {_shown(text)}, which is no str"
    if len(text) > _LONGEST_TEXT:
        return f"{name} of {len(text)} characters"
    if not text.isascii():
        try:
            text.encode()
        except UnicodeEncodeError:
            return f"{name} with a character that cannot be stored"
    return ""


def _shown(value: object) -> str:
    return ascii(value)[:60]


class Guard:
    """Checks what one driver gives, call after call, against the bytes it was given."""

    def __init__(self, driver_name: str) -> None:
        self._name = driver_name
        self._received = 0
        self._place = 0

    def facts(self, given: object, fed_bytes: int) -> list[Fact]:
        """The facts of one call of `feed` or `lost`. Raises `DriverError` on what is not fit."""
        self._received += fed_bytes
        if type(given) is not list:
            raise self._unfit(f"{type(given).__name__} where a list of facts belongs")
        place = self._place
        for fact in given:
            if wrong := misfit(fact):
                raise self._unfit(wrong)
            if fact.start < place or fact.end > self._received:
                raise self._unfit(
                    f"a fact from {fact.start} to {fact.end}, after {place} and within "
                    f"{self._received} received bytes"
                )
            place = fact.end
        self._place = place
        return given

    def bytes(self, given: object, call: str) -> bytes:
        """What one call gives to be sent. Raises `DriverError` if that is no bytes."""
        if type(given) is not bytes:
            raise self._unfit(f"{_shown(given)} from {call}, where bytes belong")
        return given

    def _unfit(self, got: str) -> DriverError:
        return DriverError(
            f"the driver {self._name} gave what no driver may give",
            got=got,
            next_step=f"report this to whoever wrote the driver {self._name}",
        )
