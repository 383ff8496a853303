"""What is told of numbers in digits that stand in frames of one length. Pure.

Digits become more and fewer with the number, and a frame does not: so what no press has shown of
them is noise wherever nothing fills them up.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.learn.frames import Frame
from acquire.wire import Form, Proof


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
