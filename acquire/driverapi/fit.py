"""What a driver hands over is looked at before it goes any further.

A plug-in is somebody else's code. A value that is no Decimal, a count beyond what a row can hold
or a stretch of bytes that was never received would otherwise stop the recorder, and with it every
other instrument. Pure; one guard a connection, one thread.
"""

from __future__ import annotations

from decimal import Decimal

from acquire.driverapi.fit_samples import misfit_samples
from acquire.driverapi.fit_spectrum import misfit_spectrum
from acquire.driverapi.needs import LinkNeeds, Parity, TypedNeeds, UsbNeeds
from acquire.errors import DriverError
from acquire.model import (
    Fact,
    Flag,
    Instant,
    Noise,
    Notice,
    NoticeKind,
    Quantity,
    Reading,
    Samples,
    Spectrum,
)

_SHARING = frozenset((Reading, Spectrum))
_KINDS = frozenset((Reading, Noise, Notice, Spectrum, Samples))
_RANGE = frozenset((Flag.OVER_RANGE, Flag.UNDER_RANGE))
_HIGHEST_PRESS = 2**63 - 1
_LONGEST_TEXT = 4096
_MOST_DIGITS = 40
_LARGEST_EXPONENT = 30
_HIGHEST_NS = 2**63 - 1
# A driver may name a moment between two chunks; it may not make one up.
_CLOCKS_APART_NS = 1_000_000


def misfit_needs(needs: object) -> str:
    """Why these are no needs that a link can be opened by; empty if they are."""
    if type(needs) is UsbNeeds:
        if needs.protocol is not None and (wrong := _out_of_bounds(needs, _USB_PROTOCOL)):
            return wrong
        return _out_of_bounds(needs, _USB_BOUNDS)
    if type(needs) is TypedNeeds:
        return ""
    if type(needs) is not LinkNeeds:
        return f"{type(needs).__name__[:60]} where LinkNeeds, UsbNeeds or TypedNeeds belong"
    if type(needs.parity) is not Parity:
        return f"parity = {_shown(needs.parity)}"
    return _out_of_bounds(needs, _LINE_BOUNDS)


_Bound = tuple[str, tuple[type, ...], float, float]
_LINE_BOUNDS: tuple[_Bound, ...] = (
    ("baud_rate", (int,), 1, 100_000_000),
    ("data_bits", (int,), 5, 8),
    ("stop_bits", (int, float), 1, 2),
    ("flow_control", (bool,), False, True),
    ("write_timeout_s", (int, float), 0.001, 3600),
    ("gather_s", (int, float), 0, 1),
)
_USB_BOUNDS: tuple[_Bound, ...] = (
    ("interface_class", (int,), 0, 255),
    ("interface_subclass", (int,), 0, 255),
    ("listens", (bool,), False, True),
    # A transfer cannot be broken off, so the end of the daemon waits for it.
    ("timeout_s", (int, float), 0.001, 5),
)
_USB_PROTOCOL: tuple[_Bound, ...] = (("protocol", (int,), 0, 255),)


def _out_of_bounds(needs: object, bounds: tuple[_Bound, ...]) -> str:
    for name, kinds, least, most in bounds:
        value = getattr(needs, name)
        if type(value) not in kinds or not least <= value <= most:
            return f"{name} = {_shown(value)}"
    return ""


def misfit(fact: object) -> str:
    """Why this is no fact that a driver may give; empty if it is one."""
    if type(fact) not in _KINDS:
        return f"{type(fact).__name__[:60]} where a Reading, Noise, Notice or array belongs"
    assert isinstance(fact, Reading | Noise | Notice | Spectrum | Samples)
    if isinstance(fact, Samples):
        return (
            misfit_samples(fact)
            or ("" if is_instant(fact.at) else f"at = {_shown(fact.at)}, which is no Instant")
            or _misfit_text("unit", fact.unit)
            or _misfit_text("channel", fact.channel)
        )
    raw, start, end = fact.raw, fact.start, fact.end
    if type(raw) is not bytes or type(start) is not int or type(end) is not int:
        return "raw that is no bytes, or start or end that is no int"
    if end - start != len(raw):
        return f"{len(raw)} raw bytes from {start} to {end}"
    if not is_instant(fact.at):
        return f"at = {_shown(fact.at)}, which is no Instant"
    if isinstance(fact, Reading):
        return _misfit_reading(fact)
    if isinstance(fact, Spectrum):
        return _misfit_flags(fact) or misfit_spectrum(fact) or _misfit_press(fact)
    if isinstance(fact, Noise):
        return _misfit_text("reason", fact.reason)
    if type(fact.kind) is not NoticeKind:
        return f"kind = {_shown(fact.kind)}, which is no NoticeKind"
    return _misfit_text("text", fact.text)


def is_instant(value: object) -> bool:
    """An instant that can be stored and subtracted."""
    return (
        type(value) is Instant
        and type(value.utc_ns) is int
        and type(value.mono_ns) is int
        and 0 <= value.utc_ns <= _HIGHEST_NS
        and 0 <= value.mono_ns <= _HIGHEST_NS
    )


def _misfit_reading(reading: Reading) -> str:
    if wrong := _misfit_flags(reading):
        return wrong
    value, flags = reading.value, reading.flags
    if value is None:
        if flags.isdisjoint(_RANGE):
            return "no value and no range flag"
    elif type(value) is not Decimal or not value.is_finite():
        return f"value = {_shown(value)}, which is no finite Decimal"
    elif not flags.isdisjoint(_RANGE):
        return "a value and a range flag"
    elif abs(value.adjusted()) > _LARGEST_EXPONENT or len(value.as_tuple().digits) > _MOST_DIGITS:
        return f"value = {_shown(value)}, beyond all measure"
    return (
        _misfit_press(reading)
        or _misfit_text("text", reading.text)
        or _misfit_text("channel", reading.channel)
    )


def _misfit_flags(fact: Reading | Spectrum) -> str:
    flags = fact.flags
    if type(flags) is not frozenset or not all(type(flag) is Flag for flag in flags):
        return f"flags = {_shown(flags)}, which is no frozenset of Flag"
    return ""


def _misfit_press(fact: Reading | Spectrum) -> str:
    if type(fact.quantity) is not Quantity:
        return f"quantity = {_shown(fact.quantity)}, which is no Quantity"
    press = fact.press
    if press is not None and (type(press) is not int or not 0 <= press <= _HIGHEST_PRESS):
        return f"press = {_shown(press)}, which is no count"
    return _misfit_text("unit", fact.unit)


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
    try:
        return ascii(value)[:60]
    except BaseException:  # a stranger's __repr__ may raise anything
        return f"a {type(value).__name__[:40]} that cannot be shown"


class Guard:
    """Checks what one driver gives, call after call, against the bytes and moments it was given."""

    def __init__(self, driver_name: str, opened: Instant) -> None:
        self._name = driver_name
        self._received = 0
        self._place = 0
        self._opened = opened
        self._latest_mono_ns = opened.mono_ns
        self._least_apart_ns = self._most_apart_ns = opened.utc_ns - opened.mono_ns

    def tell(self, at: Instant) -> None:
        """Note a moment that the driver is given with a call."""
        apart_ns = at.utc_ns - at.mono_ns
        self._latest_mono_ns = at.mono_ns
        self._least_apart_ns = min(self._least_apart_ns, apart_ns)
        self._most_apart_ns = max(self._most_apart_ns, apart_ns)

    def facts(self, given: object, fed_bytes: int, at: Instant) -> list[Fact]:
        """The facts of one call of `feed` or `lost` at a moment. Raises `DriverError` if unfit."""
        self._received += fed_bytes
        self.tell(at)
        if type(given) is not list:
            raise self._unfit(f"{type(given).__name__[:60]} where a list of facts belongs")
        place = self._place
        last: tuple[int, int] | None = None
        for fact in given:
            if wrong := misfit(fact):
                raise self._unfit(wrong)
            # Several readings of one press may come in one frame, and each has all its bytes.
            shares = type(fact) in _SHARING and (fact.start, fact.end) == last
            if (fact.start < place and not shares) or fact.end > self._received:
                raise self._unfit(
                    f"a fact from {fact.start} to {fact.end}, after {place} and within "
                    f"{self._received} received bytes"
                )
            if fact.at is not at and not self._was(fact.at):
                raise self._unfit(f"at = {_shown(fact.at)}, a moment it was never given")
            place = fact.end
            last = (fact.start, fact.end) if type(fact) in _SHARING else None
        self._place = place
        return given

    def bytes(self, given: object, call: str) -> bytes:
        """What one call gives to be sent. Raises `DriverError` if that is no bytes."""
        if type(given) is not bytes:
            raise self._unfit(f"{_shown(given)} from {call}, where bytes belong")
        return given

    def again(self, given: object) -> Instant | None:
        """When `due` wants to be asked again. Raises `DriverError` if that is no moment."""
        if given is None:
            return None
        if not is_instant(given):
            raise self._unfit(f"{_shown(given)} from due, where an Instant belongs")
        assert isinstance(given, Instant)
        return given

    def _was(self, at: Instant) -> bool:
        """Whether it lies within the connection, on both clocks as they stood to each other."""
        apart_ns = at.utc_ns - at.mono_ns
        least_ns = self._least_apart_ns - _CLOCKS_APART_NS
        most_ns = self._most_apart_ns + _CLOCKS_APART_NS
        return (
            self._opened.mono_ns <= at.mono_ns <= self._latest_mono_ns
            and least_ns <= apart_ns <= most_ns
        )

    def _unfit(self, got: str) -> DriverError:
        return DriverError(
            f"the driver {self._name} gave what no driver may give",
            got=got,
            next_step=f"report this to whoever wrote the driver {self._name}",
        )
