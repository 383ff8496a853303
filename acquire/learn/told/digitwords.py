"""What is told of the room that frames of one length have for numbers, above all in digits. Pure.

Digits become more and fewer with the number, and a frame does not: so what no press has shown of
them is noise wherever nothing fills them up.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.learn.frames.frames import Frame
from acquire.learn.numbers.limits import Limits
from acquire.learn.numbers.number import NumberAt
from acquire.learn.presses.press import About
from acquire.wire import Form, Proof

_WHOLE_BYTE = 0xFF


def digits_unseen(frame: Frame, data: Sequence[bytes]) -> list[str]:
    """What frames of one length cannot have in digits, or have as no press has shown it."""
    room, display, limits = frame.room, frame.display, frame.limits
    if room is None or display is None:
        return []
    shown = [value for one in data if (value := frame.number.read(one)) is not None]
    words = []
    many = f"{frame.number.size} characters with its sign and point"
    if room.digits is not None:
        many = f"{room.digits} digit{'s' if room.digits > 1 else ''}"
    if not room.is_filled:
        words.append(
            f"a number of other than {many}: it is read if spaces or zeros fill it "
            f"up to the same {frame.length} bytes, and is noise otherwise; show one if there are "
            "any"
        )
    elif limits.most < display.most and not limits.is_most_guessed:
        words.append(
            f"a number above {limits.most:f}: its digits have no room in {frame.length} bytes, and "
            "such presses are noise; show one if there are any"
        )
    if display.least < 0 and min(shown) >= 0 and frame.number.minus is None:
        words.append(
            f"a number below zero: it is read if its sign stands before its digits within the same "
            f"{frame.length} bytes, and is noise otherwise; show one if there are any"
        )
    if max(shown) <= 0:
        words.append(
            "a number above zero: it is read if the sign of those below is a space, a plus or a "
            "zero then, and is noise otherwise; show one if there are any"
        )
    return words


def beyond_room(number: NumberAt, limits: Limits, about: About) -> list[str]:
    """Numbers that a person said the display can show, and that its bytes have no room for.

    The last one that they do have room for goes with these.
    """
    full, empty = number.ends
    if full is None:
        return []
    beyond = -1 if number.order == "big" else number.size
    mark = number.minus
    # Who sends its sign in a byte beside the number may send its highest bits there, too.
    sign = ""
    if mark is not None and mark.mask < _WHOLE_BYTE and mark.offset == number.offset + beyond:
        sign = f", unless byte {mark.offset}, which tells its sign, has more of it"
    sides = (
        (about.most, limits.most, full, "above", "--most"),
        (about.least, limits.least, -full if empty is None else empty, "below", "--least"),
    )
    return [
        f"a number {side} {limit:f}, though {said:f} was said: its bytes have no room beyond "
        f"{end:f}{sign}; many meters send that for any that is beyond, so that such presses are "
        f"noise; if the display shows {end:f} and no more, say {option} {end:f}"
        for said, limit, end, side, option in sides
        if said is not None and abs(said) > abs(end) > abs(limit) > 0
    ]


def sum_unseen(frame: Frame, data: Sequence[bytes]) -> list[str]:
    """A sum of which a byte never changed: a mark before a shorter one looks like it."""
    proof = frame.proven.proof
    if not isinstance(proof, Proof) or proof.name != "sum16" or proof.form is not Form.BYTES:
        return []
    high = proof.at if proof.order == "big" else proof.at + 1
    if len({one[high] for one in data}) > 1:
        return []
    return [
        f"byte {high} otherwise: it was the same at every press, and is taken for the upper half "
        "of the checksum; if it is none, presses whose sum has another one are noise. Press on "
        "things that read very differently"
    ]
