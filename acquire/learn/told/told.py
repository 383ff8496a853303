"""What is told of what was learned: what is believed, and what no press has shown. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from acquire.learn.beside.burst import Burst
from acquire.learn.checksums.proven import Proven
from acquire.learn.checksums.textproof import Tail, TextProof
from acquire.learn.frames.frames import Frame
from acquire.learn.lines.line import Line
from acquire.learn.lines.places import are_hexadecimal, has_exponent, minus_words
from acquire.learn.numbers.limits import Limits
from acquire.learn.numbers.number import EXACT
from acquire.learn.pieces.column import MOST_WORDS
from acquire.learn.pieces.still import still_in_frame, still_words
from acquire.learn.pieces.units import kinds_of
from acquire.learn.presses.framing import terminator
from acquire.learn.presses.press import LEAST_PRESSES, About, Press
from acquire.learn.told.countwords import count_believed, count_unseen
from acquire.learn.told.digitwords import beyond_room, digits_unseen, sum_unseen
from acquire.learn.told.numberwords import decimals_unseen, free_words, sign_place, widths_unseen
from acquire.learn.told.unmoved import unmoved
from acquire.wire import Form, Proof, Sent

_LIKE_SUM = re.compile(r"\[0-9(?:A-F|a-f)\]\{[248]\}\W*$")
_FEW_WORDS = re.compile(r"\(\?:[^()]*\|")
FINER = "it has more digits than the display shows, and is read with all of them"
_BELOW = (
    "a number below zero: such presses are noise; show one to learn it, or say how far down the "
    "display goes (--least -20, or --least 0 if there is none)"
)
_BELOW_IN_BYTES = (
    "a number below zero: such presses are noise, whatever is said of the display, for which bits "
    "tell its minus only a press shows; show one to learn it, or say --least 0 if there is none"
)
ALWAYS_UNSEEN = (
    "what it sends when it is switched on, re-adjusted, out of its range, or when a press fails: "
    "that is noise as long as it looks otherwise than a press that went well; add it to the "
    "profile once you know it"
)


def of_line(line: Line, end: bytes) -> list[str]:
    """What is believed of lines."""
    believed = [
        f"text lines that end in {end!r:}"[:60].replace("b'", "").replace("'", ""),
        f"the number on the display stands {line.where}",
        *_proof_words(line.proven),
    ]
    if line.thousands:
        believed.append(
            f"{line.thousands!r} stands between its thousands: a number of 1000 or more without it "
            "is noise"
        )
    if line.implied_decimals:
        sent = line.values[0].strip(" ")
        value = EXACT.scaleb(Decimal(sent), -line.implied_decimals)
        believed.append(
            f"the decimal point is not sent: {sent} is {value}, and a number with a point is noise"
        )
    if line.power:
        believed.append(f"the number has a power of ten, as in {line.power}: one without is noise")
    if line.proven.likely is None and _LIKE_SUM.search(line.pattern):
        believed.append(
            "the last digits of a line may be a checksum that fits no sum that is known: they may "
            "be any, and are not checked"
        )
    if line.has_count:
        believed.append(
            "a number goes up by one with every press and is used as their count: a leap of it "
            "ends the check"
        )
    believed += [
        f"a date or a time stands in the line, such as {text!r}: any other one is taken, too"
        for text, _ in line.stamps
    ]
    believed += free_words(line)
    believed += [f"{text} may be any number like it, as you said" for text in line.moved]
    if line.sign is not None:
        believed.append(f"the sign stands apart from the digits: {line.sign}")
    if line.rounded is not None:
        believed.append(FINER)
    if line.has_again:
        believed.append("the number stands in the line twice: one in which they differ is noise")
    believed += [
        f"{text!r} may be a geometry and its value, or a temperature and something else: it is not "
        "read, since no unit beside each says so; if it is one, the profile is to be written by "
        "hand: copy config/profiles/gloss-press.toml"
        for text in line.left_out
    ]
    if isinstance(line.burst, Burst):
        believed += _of_burst(line.burst)
    believed += [
        f"the unit stands in the line: {token} is {unit}"
        + ("" if kinds_of(token) else ", as you said")
        for token, unit in line.units
    ]
    return believed


def _of_burst(burst: Burst) -> list[str]:
    if burst.lines == 1:
        return [
            "a press is one line: with any other line close before or behind it is noise, and the "
            "same one again is a repeat of the press and never counts"
        ]
    words = f"a press is {burst.lines} lines"
    if burst.beside:
        examples = ", ".join(repr(one.example) for one in burst.beside[:3])
        words += (
            f", of which {sum(len(one.places) for one in burst.beside)} have no number of the "
            f"display: {examples}"
        )
    return [f"{words}; where one is missing or otherwise, all of the press is noise"]


def of_frame(frame: Frame, left: int) -> list[str]:
    """What is believed of frames; so many explanations are `left`."""
    limits, kept = frame.limits, frame.held
    believed = [
        f"frames of {frame.length} bytes"
        + (f", begun by {frame.start.hex(' ').upper()}" if frame.start else ""),
        f"the number on the display is {frame.number}",
        (f"{left} explanations are left" if left > 1 else "1 explanation is left")
        + f"; from {limits.least:f} to {limits.most:f} this one is right by "
        + ("all of them" if left > 1 else "it")
        + ", and any other number is noise",
        *_proof_words(frame.proven),
    ]
    believed += [
        f"byte {place} is a sum of those before it that no profile can name: it may be any"
        for place in frame.summed
        if not frame.proven.rivals
    ]
    if frame.number.rounded is not None:
        believed.append(FINER)
    if frame.repeats > 1:
        believed.append("a press is sent again and again: the same frame soon after is a repeat")
    if kept.counted is not None:
        believed.append(count_believed(kept.counted))
    believed += [
        f"byte {place} repeats the count: a frame in which they differ is noise"
        for place in kept.copies
    ]
    if kept.twin is not None:
        first, last = kept.twin.places[0], kept.twin.places[-1]
        where = f"byte {first} repeats" if first == last else f"bytes {first} to {last} repeat"
        believed.append(f"{where} the number: a frame in which they differ is noise")
    believed += [
        f"byte {place} counts, too; that is not used, and it may be any that has no further bit"
        for place in kept.counters
    ]
    never = sum(mask == 0xFF for mask in kept.masks)
    believed.append(f"{never} bytes never changed: a frame with others there will be noise")
    return believed


def is_large(alone: int, presses: int) -> bool:
    """Whether so many presses with something that no other had are a large share of them."""
    return 2 * alone >= presses


def _expected(alone: int, presses: int) -> list[str]:
    """How many presses to come will be noise, for as much as those shown tell."""
    if not is_large(alone, presses):
        return []
    return [
        f"{alone} of {presses} presses had something beside the number that no other had: of those "
        "to come about as large a share will be noise; press more, until fewer do"
    ]


def unseen_in_frame(frame: Frame, data: Sequence[bytes], about: About) -> tuple[str, ...]:
    """What no press of frames has shown, and how it is taught."""
    limits, kept = frame.limits, frame.held
    alone = frame.alone(data) if kept.open or kept.likely else 0
    words = _expected(alone, len(data))
    if limits.is_below_unseen:
        # Floating point says its sign itself (IEEE 754-2019).
        words.append(_BELOW if frame.number.is_float else _BELOW_IN_BYTES)
    words += digits_unseen(frame, data) + sum_unseen(frame, data)
    words += beyond_room(frame.number, limits, about)
    if limits.is_most_guessed and about.most is None:
        words.append(_too_large(limits))
    words += [
        f"byte {place} may count presses or say how they went: "
        + (
            "it is used as their count"
            if kept.counted is not None and place in kept.counted.places
            else f"above {frame.open_up_to(place)} it makes a press noise"
        )
        + "; one more press shows which"
        for place in kept.likely
    ]
    if frame.at_zero is not None:
        words += [_at_zero(place, seen) for place, seen in frame.at_zero.states]
    if kept.values:
        places = ", ".join(map(str, kept.values))
        words.append(
            f"other values of byte {places} than the few that presses had: such presses are noise; "
            "more presses show more"
        )
    if bits := [at for at in kept.open if at not in kept.values]:
        places = ", ".join(map(str, bits))
        words.append(
            f"some bits of byte {places}: a press that changes them is noise; more presses show "
            "more"
        )
    words += count_unseen(kept.counted) if kept.counted is not None else []
    words += [
        f"byte {place} counts, too, and no press had it above {frame.open_up_to(place)}: beyond "
        "that presses are noise; learn from one of them, too, once it is there"
        for place in kept.counters
        if kept.masks[place] & 0x80
    ]
    held = still_in_frame(kept.masks, frozenset(frame.number.places) | frame.proof_places)
    words += still_words("frame", [f"byte {places}" for places in held])
    return (*words, ALWAYS_UNSEEN)


def _at_zero(place: int, seen: Sequence[int]) -> str:
    states = " or ".join(f"{one:02X}" for one in seen)
    return (
        f"another number than 0 with byte {place} at {states}, as only presses of 0 had it: such "
        "presses are noise, since 0 does not tell how many decimals others have then; press on "
        "something else in that state, and learn from all presses"
    )


def unseen_in_line(
    line: Line, limits: Limits, shown: Sequence[Decimal], about: About, *, is_below: bool,
    loses: bool = False,
) -> tuple[str, ...]:  # fmt: skip
    """What no press of lines has shown, and how it is taught.

    `is_below`: one was below zero. `loses`: its limits are those of the digits that are sent.
    """
    words = _expected(line.alone, len(shown))
    if limits.is_most_guessed and len(line.units) < 2:
        words.append(_too_large(limits))
    words += [_BELOW] if limits.is_below_unseen else []
    if limits.least < 0 and not is_below:
        words.append(
            f"a number below zero: it is read if its sign stands {sign_place(line)}, and is noise "
            "otherwise; show one if there are any"
        )
    if max(shown) <= 0:
        words.append(
            "a number above zero: how it is written nobody knows yet, and it may be noise; show one"
        )
    words += widths_unseen(line) + decimals_unseen(line, limits)
    if line.angle_codes:
        words.append(
            "a geometry beside another word than presses had with it: such lines are noise; if "
            "that word says something else, press where both part, and learn from all presses"
        )
    if line.is_count_open:
        words.append(
            "whether the number that went up by one counts presses: it is used as their count, and "
            "if it is none every press ends the check; one more press shows which"
        )
    if line.is_open:
        words.append(
            "whether digits or words that changed are a time, hexadecimal, or say how a press "
            "went: what they have not been is noise; a few more presses show it"
        )
    words += [
        f"another one than {text!r}: if that is a date or a time, presses are noise once it has "
        "moved on; learn from some of them, too"
        for text in line.likely_stamps
    ]
    beside = line.burst.beside if isinstance(line.burst, Burst) else ()
    words += unmoved(line, about)
    if line.is_power_open:
        words.append(
            "a number with another power of ten than 0: such presses are noise; show one, such as "
            "a number ten times as large"
        )
    if line.power:
        words.append(
            f"a number with more or fewer digits in one of its parts than presses had, such as "
            f"{line.power}: such lines are noise, for one that lost a digit looks so; show one if "
            "there are any"
        )
    if line.lost_from is not None and (loses or len(line.units) > 1):
        words.append(_lost(line.lost_from, is_noise=len(line.units) < 2))
    if line.may_touch:
        words.append(
            "a number with more digits, if it touches those before it then: such lines are noise, "
            "for nobody could say which digit is whose"
        )
    if any(map(_FEW_WORDS.search, [line.pattern, *(one.pattern for one in beside)])):
        words.append(
            "other words, or other ones of the few numbers that change, beside the number: such "
            f"lines are noise. More presses show more, and once {MOST_WORDS + 1} different ones of "
            "a number were shown, or none came again, any is taken"
        )
    return (*words, ALWAYS_UNSEEN)


def _lost(lost_from: Decimal, *, is_noise: bool) -> str:
    what = (
        f"a number of {lost_from:f} or more, either way: so few digits are sent that the last one "
        "of the display is not among them, and another number than the one shown would be read"
    )
    if not is_noise:
        return f"{what}. It is read all the same, since each unit has limits of its own"
    return (
        f"{what}; such presses are noise. Set the meter to send more digits, if it can; or, if its "
        "display has fewer decimals there, show two such numbers"
    )


def _too_large(limits: Limits) -> str:
    return (
        f"a number above {limits.most:f}: such presses are noise; show a larger one, or say --most "
        "with the largest number of its display"
    )


def _proof_words(proven: Proven) -> list[str]:
    if proven.rivals:
        return [
            f"a checksum that {proven.rivals} forms fit: another press would tell; it is not used"
        ]
    proof = proven.proof
    if isinstance(proven.likely, Tail):
        return [
            "the last digits of a line are a sum of it that no profile can name: they may be any, "
            "and are not checked"
        ]
    if isinstance(proof, TextProof):
        what = f"{proof.kind} in {proof.form} digits"
        what += f" after {proof.after!r}" if proof.after else " at the end of the line"
        what += ", which it covers, too" if proof.with_after else ""
        what += f", from character {proof.first} on" if proof.first else ""
        what += "" if proof.sent is Sent.PLAIN else f", {proof.sent.value}"
    elif isinstance(proof, Proof):
        what = (
            f"{proof.name} of bytes {proof.first} to {proof.last} at {proof.at}, {proof.sent.value}"
        )
        if proof.form is not Form.BYTES:
            what += f", in {proof.form.value} digits"
    else:
        return ["no checksum was found"]
    return [
        f"the checksum is {what}; of {proven.tried} forms tried one fits by chance with "
        f"probability {proven.chance:.0e}"
    ]


def few(presses: int, shown: int) -> tuple[str, ...]:
    press = "1 press" if presses == 1 else f"{presses} presses"
    numbers = "1 number" if shown == 1 else f"{shown} different numbers"
    needed = f"{LEAST_PRESSES} presses with as many different numbers are needed"
    return (f"{press} with {numbers}, and {needed}",)


def nothing(presses: Sequence[Press], why: str) -> tuple[str, ...]:
    words = ["no place in the bytes gives all the numbers that were shown"]
    if has_exponent(presses):
        words.append(
            "there are numbers with a power of ten, and none of them was shown at every press"
        )
    if are_hexadecimal(presses):
        words.append("the number stands there in hexadecimal digits, which no profile reads")
    if why:
        words.append(why)
    end = terminator([press.data for press in presses])
    if end is not None and (minus := minus_words(presses, end)):
        words.append(
            f"numbers below zero stand {minus}, and what stands about them differs: leave them out "
            "to learn the others, and such presses will be noise"
        )
    return tuple(words)
