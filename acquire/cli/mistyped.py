"""What is said of a number that may have been mistyped: which press, and what its bytes show. Pure.

Nothing is left out or mended here: the person who read the display says what stood there.
"""

from __future__ import annotations

from decimal import Decimal

from acquire.errors import Misuse
from acquire.learn import Finding, Odd

BY_HAND = (
    "write its profile by hand (an integer with more digits than its display shows is not learned, "
    "and no number of which the display cuts digits off): copy config/profiles/gloss-press.toml "
    "for text, frame-gloss.toml for bytes; what no profile can say needs a driver of its own "
    "(DEVELOPERS.md)"
)

ONE_OF_THREE = (
    "one of the three numbers may be mistyped: with a fourth press it can be told which one"
)

FOURTH_PRESS = (
    "look whether each number was typed as it was shown and in the order of the presses; if so, "
    "press once more, and learn from all four presses together: then it is told which is odd, or "
    f"that none is; then {BY_HAND}"
)


def odd_words(number: int, odd: Odd, typed: Decimal) -> str:
    """Of the press of this number, the first is 1."""
    if odd.says is None:
        return f"press {number} does not go with the others, and {typed} was typed"
    return f"press {number} shows {odd.says} by its bytes, and {typed} was typed"


def odd_step(odd: Odd) -> str:
    """What to do about it where nobody is there to be asked."""
    name = "the number" if odd.says is None else f"--shown {odd.says}"
    step = (
        f"if the display showed another number than was typed, name that in its place ({name}); if "
        "the press went wrong, name - for it to leave it out"
    )
    if odd.says is not None:
        return step
    return (
        f"{step}; if all is right, it is sent in a form that no way of reading the others has: "
        "leave it out as well, and presses like it will be noise"
    )


def mistyped(found: Finding, got: str) -> Misuse:
    """Numbers that stand at no common place in the bytes."""
    return Misuse(
        "no way to read these bytes gives all the numbers that were shown, and nothing is written",
        got=f"{found.mistyped}\n{got}",
        wanted="each number typed as it was shown, in the order of the presses",
        next_step=found.next_step,
    )
