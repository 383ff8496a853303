"""From presses and what the display showed to a profile, or to why there is none. Pure.

All explanations of the bytes are kept. One is offered only if it is right whichever of them holds;
otherwise what is left is told, and which press would tell it. Never guesses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from acquire.driverapi.registry import Registry
from acquire.learn.frames import Frames, frames
from acquire.learn.framing import is_text, lines_of, terminator
from acquire.learn.lines import Line, has_exponent, lines, stands_as_text
from acquire.learn.press import About, Press
from acquire.learn.proofs import Proven, TextProof
from acquire.learn.proved import faults
from acquire.learn.units import default_unit
from acquire.learn.written import frame_profile, line_profile
from acquire.model import Quantity
from acquire.wire import Proof

LEAST_PRESSES = 3
UNSAYABLE = (
    "the numbers stand in the text of every press, and what stands about them changes from press "
    "to press in a way that no pattern says"
)


class Outcome(StrEnum):
    """How it went."""

    SURE = "sure"
    """There is a profile, and it is right whichever explanation holds.

    With `tell_below` or `is_proof_open` one more press would make it better, and no less right.
    """
    MORE = "more"
    """Several explanations are left that differ: another press is needed."""
    UNSAID = "unsaid"
    """The number is found; the unit or the channel is not in the bytes and nobody said it."""
    NONE = "none"
    """No explanation fits all presses."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What was learned. `believed` are sentences for a person, `left` the explanations left.

    A press that shows a number above `tell_above` or below `tell_below` would tell them apart.
    `missing` is what a person must say: unit, geometry or band.
    """

    outcome: Outcome
    believed: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    family: str = ""
    profile: str = ""
    tell_above: Decimal | None = None
    tell_below: Decimal | None = None
    missing: str = ""
    is_proof_open: bool = False


def learn(presses: Sequence[Press], about: About, registry: Registry) -> Finding:
    """What can be said of a meter by these presses."""
    if not presses or not all(press.data for press in presses):
        return Finding(Outcome.NONE, ("a press without any byte",))
    data = [press.data for press in presses]
    if is_text(data):
        end = terminator(data)
        if end is not None:
            found = lines(presses, end, about.kind)
            if found:
                return _of_lines(found, end, presses, about, registry)
            if all(one.isascii() for one in data) and stands_as_text(presses, end):
                return Finding(Outcome.NONE, (UNSAYABLE,))
        if has_exponent(presses):
            return Finding(Outcome.NONE, _nothing(presses, ""))
    binary = frames(presses, about)
    if isinstance(binary, str):
        return Finding(Outcome.NONE, _nothing(presses, binary))
    if not binary.judged.rivals:
        return Finding(Outcome.NONE, _nothing(presses, ""))
    return _of_frames(binary, presses, about, registry)


def evident_kind(presses: Sequence[Press]) -> Quantity | None:
    """What a meter measures, where the unit that it sends as text says it."""
    end = terminator([press.data for press in presses]) if presses else None
    if end is None or not is_text([press.data for press in presses]):
        return None
    # Each press for itself: where a number was mistyped the others say it.
    found = [
        kind
        for kind in Quantity
        if any(line.unit for press in presses for line in lines([press], end, kind))
    ]
    return found[0] if len(found) == 1 else None


def _of_lines(
    found: list[Line], end: bytes, presses: Sequence[Press], about: About, registry: Registry
) -> Finding:
    left = tuple(map(str, found))
    shown = {press.shown for press in presses}
    if len(found) > 1:
        return Finding(Outcome.MORE, (f"{len(found)} numbers of a press are what was shown",), left)
    (line,) = found
    # The same number every time may be no number of the display at all.
    if len(presses) < LEAST_PRESSES or len(shown) < LEAST_PRESSES:
        return Finding(Outcome.MORE, _few(len(presses), len(shown)), left)
    believed = [
        f"text lines that end in {end!r:}"[:60].replace("b'", "").replace("'", ""),
        f"the number on the display stands {line.where}",
        *_proof_words(line.proven),
    ]
    if line.has_count:
        believed.append("a count that goes up by one with every press")
    if line.others:
        words = "line" if line.others == 1 else "lines"
        believed.append(f"{line.others} other {words} in a press, which will be noise")
    if line.unit:
        believed.append(f"the unit stands in the line: {line.unit_token} is {line.unit}")
    about, missing = _completed(
        about, has_unit=bool(line.unit), channels=line.channels, presses=presses,
        numbers=line.constant_numbers,
    )  # fmt: skip
    if missing:
        return Finding(Outcome.UNSAID, tuple(believed), left, missing=missing)
    believed += _said(about, line)
    repeats = max(len(lines_of(p.data, end)) - len(set(lines_of(p.data, end))) for p in presses) > 0
    text = line_profile(line, end, about, remarks=believed, repeats=repeats)
    return _proved("line", text, presses, registry, believed, left, line.proven)


def _of_frames(
    binary: Frames, presses: Sequence[Press], about: About, registry: Registry
) -> Finding:
    judged, frame = binary.judged, binary.frame
    left = tuple(map(str, judged.rivals))
    shown = {press.shown for press in presses}
    if len(presses) < LEAST_PRESSES or len(shown) < LEAST_PRESSES:
        return Finding(Outcome.MORE, _few(len(presses), len(shown)), left)
    if frame is None or judged.best is None:
        why = f"{len(left)} readings of the bytes give what was shown, and differ elsewhere"
        return Finding(
            Outcome.MORE, (why,), left, tell_above=judged.tell_above, tell_below=judged.tell_below
        )
    low, high = about.reach([press.shown for press in presses])
    believed = [
        f"frames of {frame.length} bytes"
        + (f", begun by {frame.start.hex(' ').upper()}" if frame.start else ""),
        f"the number on the display is {judged.best}",
        f"{len(left)} explanations are left; from {low} to {high} this one is right by all of them",
        *_proof_words(frame.proven),
    ]
    if frame.repeats > 1:
        believed.append("a press is sent again and again: the same frame soon after is a repeat")
    if frame.counter is not None:
        believed.append(
            f"byte {frame.counter} counts presses; how it is written is not told yet and it is not "
            "used, and if it is more than a byte wide, frames will be noise when it overflows"
        )
    if judged.tell_below is not None:
        believed.append(
            f"nothing below zero was shown: what the meter sends from {judged.tell_below} down may "
            "be noise"
        )
    held = (
        frame.length
        - len(binary.varies)
        - len([p for p in judged.best.places if p not in binary.varies])
    )
    believed.append(f"{held} bytes never changed: a frame with others there will be noise")
    about, missing = _completed(about, has_unit=False, channels=(), presses=presses, numbers=())
    if missing:
        return Finding(Outcome.UNSAID, tuple(believed), left, missing=missing)
    believed += _said(about, None)
    text = frame_profile(frame, about, remarks=believed)
    found = _proved("frame", text, presses, registry, believed, left, frame.proven)
    return replace(found, tell_below=judged.tell_below)


def _proved(
    family: str, text: str, presses: Sequence[Press], registry: Registry,
    believed: Sequence[str], left: tuple[str, ...], proven: Proven,
) -> Finding:  # fmt: skip
    if found := faults(family, text, presses, registry):
        return Finding(
            Outcome.NONE, (*believed, "a profile of it does not give back the presses", *found)
        )
    return Finding(
        Outcome.SURE, tuple(believed), left, family, text, is_proof_open=proven.rivals > 0
    )


def _completed(
    about: About, *, has_unit: bool, channels: tuple[str, ...], presses: Sequence[Press],
    numbers: Sequence[str],
) -> tuple[About, str]:  # fmt: skip
    """What a person said, with what is evident; and what is missing."""
    if not has_unit and about.unit is None:
        unit = default_unit(about.kind)
        # Parts of one and percent look alike where all values are small.
        if about.kind is Quantity.TRANSMITTANCE and max(p.shown for p in presses) <= 2:
            unit = None
        if unit is None:
            return about, "unit"
        about = replace(about, unit=unit)
    if about.channel_key and not channels and about.channel is None:
        angles = [n for n in numbers if n in ("20", "60", "85")]
        if about.kind is not Quantity.GLOSS or len(angles) != 1:
            return about, about.channel_key
        about = replace(about, channel=angles[0])
    return about, ""


def _said(about: About, line: Line | None) -> list[str]:
    words = []
    if line is None or not line.unit:
        words.append(f"the unit is {about.unit}: no unit stands in the bytes")
    if line is not None and line.channels:
        words.append(f"geometries stand before their values: {', '.join(line.channels)} degrees")
    elif about.channel_key:
        evident = line is not None and about.channel in line.constant_numbers
        where = "as every line says" if evident else "as you said"
        words.append(f"the {about.channel_key} is {about.channel}, {where}")
    return words


def _proof_words(proven: Proven) -> list[str]:
    if proven.rivals:
        return [
            f"a checksum that {proven.rivals} forms fit: another press would tell; it is not used"
        ]
    proof = proven.proof
    if isinstance(proof, TextProof):
        what = f"{proof.kind} in {proof.form} digits after {proof.after!r}"
    elif isinstance(proof, Proof):
        what = (
            f"{proof.name} of bytes {proof.first} to {proof.last} at {proof.at}, {proof.sent.value}"
        )
    else:
        return ["no checksum was found"]
    return [
        f"the checksum is {what}; of {proven.tried} forms tried one fits by chance with "
        f"probability {proven.chance:.0e}"
    ]


def _few(presses: int, shown: int) -> tuple[str, ...]:
    return (f"{presses} presses with {shown} different numbers, and {LEAST_PRESSES} are needed",)


def _nothing(presses: Sequence[Press], why: str) -> tuple[str, ...]:
    words = ["no place in the bytes gives all the numbers that were shown"]
    if has_exponent(presses):
        words.append("there are numbers in exponent form, which no profile can read")
    if why:
        words.append(why)
    return tuple(words)
