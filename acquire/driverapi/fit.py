"""What a driver hands over is looked at before it goes any further.

A plug-in is somebody else's code. A value that is no Decimal, a count beyond what a row can hold
or a stretch of bytes that was never received would otherwise stop the recorder, and with it every
other instrument. Pure.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TypeGuard

from acquire.driverapi.fit_samples import misfit_samples
from acquire.driverapi.fit_spectrum import misfit_spectrum
from acquire.driverapi.needs import LinkNeeds, Parity, TypedNeeds, UsbNeeds
from acquire.model import (
    OUT_OF_RANGE,
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

_KINDS = frozenset((Reading, Noise, Notice, Spectrum, Samples))
_HIGHEST_PRESS = 2**63 - 1
_LONGEST_TEXT = 4096
_LONGEST_WORD = 64
_WORDS = ("unit", "channel")
# Few words come again and again; looked at once, they are known. Any thread may add one.
_SOUND_WORDS: set[str] = set()
_MOST_SOUND_WORDS = 256
_MOST_DIGITS = 40
_LARGEST_EXPONENT = 30
_HIGHEST_NS = 2**63 - 1


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
        return f"parity = {shown(needs.parity)}"
    if needs.baud_rate is not None and (wrong := _out_of_bounds(needs, _BAUD_RATE)):
        return wrong
    return _out_of_bounds(needs, _LINE_BOUNDS)


_Bound = tuple[str, tuple[type, ...], float, float]
_BAUD_RATE: tuple[_Bound, ...] = (("baud_rate", (int,), 1, 100_000_000),)
_LINE_BOUNDS: tuple[_Bound, ...] = (
    ("data_bits", (int,), 5, 8),
    ("stop_bits", (int, float), 1, 2),
    ("flow_control", (bool,), False, True),
    ("write_timeout_s", (int, float), 0.001, 3600),
    ("gather_s", (int, float), 0, 1),
    ("has_line", (bool,), False, True),
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
            return f"{name} = {shown(value)}"
    return ""


def misfit(fact: object, known: Instant | None = None) -> str:
    """Why this is no fact that a driver may give; empty if it is one.

    `known` is a moment that need not be looked at again.
    """
    if type(fact) not in _KINDS:
        return f"{type(fact).__name__[:60]} where a Reading, Noise, Notice or array belongs"
    assert isinstance(fact, Reading | Noise | Notice | Spectrum | Samples)
    if isinstance(fact, Samples):
        return (
            misfit_samples(fact)
            or ("" if is_instant(fact.at) else f"at = {shown(fact.at)}, which is no Instant")
            or _misfit_text("unit", fact.unit)
            or _misfit_text("channel", fact.channel)
        )
    raw, start, end = fact.raw, fact.start, fact.end
    if type(raw) is not bytes or type(start) is not int or type(end) is not int:
        return "raw that is no bytes, or start or end that is no int"
    if end - start != len(raw):
        return f"{len(raw)} raw bytes from {start} to {end}"
    if fact.at is not known and not is_instant(fact.at):
        return f"at = {shown(fact.at)}, which is no Instant"
    if isinstance(fact, Reading):
        return _misfit_reading(fact)
    if isinstance(fact, Spectrum):
        return _misfit_flags(fact) or misfit_spectrum(fact) or _misfit_press(fact)
    if isinstance(fact, Noise):
        return _misfit_text("reason", fact.reason)
    if type(fact.kind) is not NoticeKind:
        return f"kind = {shown(fact.kind)}, which is no NoticeKind"
    return _misfit_text("text", fact.text)


def is_plain(fact: object, at: Instant) -> TypeGuard[Reading]:
    """Whether a fact is the usual reading: a value, no flag, known words, the moment of the call.

    Says so only of what `misfit` finds nothing wrong with; of other good facts it does not. In the
    path of every reading.
    """
    if type(fact) is not Reading:
        return False
    quantity, channel, value, unit, text, when, raw, start, end, press, flags = fact
    return (
        when is at
        and type(value) is Decimal
        and value.is_finite()
        and -_LARGEST_EXPONENT <= value.adjusted() <= _LARGEST_EXPONENT
        # Its text has at least as many characters as it has digits.
        and len(str(value)) <= _MOST_DIGITS
        and type(flags) is frozenset
        and not flags
        and type(raw) is bytes
        and type(start) is int
        and type(end) is int
        and end - start == len(raw)
        and type(quantity) is Quantity
        and (press is None or (type(press) is int and 0 <= press <= _HIGHEST_PRESS))
        and type(unit) is str
        and unit in _SOUND_WORDS
        and type(channel) is str
        and channel in _SOUND_WORDS
        and type(text) is str
        and len(text) <= _LONGEST_TEXT
        and text.isascii()
    )


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
        if flags.isdisjoint(OUT_OF_RANGE):
            return "no value and no range flag"
    elif type(value) is not Decimal or not value.is_finite():
        return f"value = {shown(value)}, which is no finite Decimal"
    elif not flags.isdisjoint(OUT_OF_RANGE):
        return "a value and a range flag"
    elif abs(value.adjusted()) > _LARGEST_EXPONENT or len(value.as_tuple().digits) > _MOST_DIGITS:
        return f"value = {shown(value)}, beyond all measure"
    return (
        _misfit_press(reading)
        or _misfit_text("text", reading.text)
        or _misfit_text("channel", reading.channel)
    )


def _misfit_flags(fact: Reading | Spectrum) -> str:
    flags = fact.flags
    if type(flags) is not frozenset or (flags and not all(type(flag) is Flag for flag in flags)):
        return f"flags = {shown(flags)}, which is no frozenset of Flag"
    return ""


def _misfit_press(fact: Reading | Spectrum) -> str:
    if type(fact.quantity) is not Quantity:
        return f"quantity = {shown(fact.quantity)}, which is no Quantity"
    press = fact.press
    if press is not None and (type(press) is not int or not 0 <= press <= _HIGHEST_PRESS):
        return f"press = {shown(press)}, which is no count"
    return _misfit_text("unit", fact.unit)


def _misfit_text(name: str, text: object) -> str:
    if type(text) is not str:
        return f"{name} = {shown(text)}, which is no str"
    if len(text) > _LONGEST_TEXT:
        return f"{name} of {len(text)} characters"
    if name in _WORDS and text not in _SOUND_WORDS:
        if len(text) > _LONGEST_WORD or not text.isprintable():
            return f"{name} = {shown(text)}, which is no word of ours"
        if len(_SOUND_WORDS) < _MOST_SOUND_WORDS:
            _SOUND_WORDS.add(text)
    if not text.isascii():
        try:
            text.encode()
        except UnicodeEncodeError:
            return f"{name} with a character that cannot be stored"
    return ""


def shown(value: object) -> str:
    try:
        return ascii(value)[:60]
    except BaseException:  # a stranger's __repr__ may raise anything
        return f"a {type(value).__name__[:40]} that cannot be shown"
