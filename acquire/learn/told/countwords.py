"""What is told of the count of presses in frames. Pure."""

from __future__ import annotations

from acquire.learn.beside.against import Against
from acquire.learn.numbers.count import Count


def count_believed(count: Count) -> str:
    """Where it stands and what it is used for."""
    first, last = count.places[0], count.places[-1]
    how = " in digits" if count.are_digits else " in packed decimals" if count.is_packed else ""
    where = f"byte {first} counts presses{how} and is"
    if first != last:
        between = "to" if count.are_digits else "and"
        where = f"bytes {first} {between} {last} count presses{how} and are"
    return (
        f"{where} used as their count: a leap of it ends the check, and so it does when the count "
        f"starts again, after {count.most} at the latest"
        + (
            "; whether in packed decimals or binary no press has shown, and either goes on"
            if count.may_be_packed
            else ""
        )
    )


def count_refused(counts_to: int | None, highest: int | None) -> Against | None:
    """Why it is not taken how far a meter counts its presses, which is what somebody said.

    `highest` is the highest count that a press had, None where nothing counts.
    """
    if counts_to is None or (highest is not None and counts_to >= highest):
        return None
    return Against(
        "counts_to",
        f"the meter counts its presses to {counts_to} (--counts-to {counts_to})",
        "nothing in its bytes counts presses" if highest is None else f"a count of {highest}",
        "leave --counts-to out, or look up how far its display counts the presses",
    )


_EXAMPLE = 255


def count_unseen(count: Count) -> list[str]:
    """What no press has shown of it, and how it is taught."""
    words = []
    if (proven := count.proven) is not None:
        words.append(
            f"a count above {proven}: at {proven + 1}, twice that and so on the check ends, since "
            "a flag would look so; to be spared that say how far it counts by the meter's display "
            f"or manual (--counts-to {_EXAMPLE}), or learn from a press with a high count, too"
        )
    if (above := count.carried_above) is not None:
        places = " and ".join(str(at) for at in count.places if at != count.place)
        words.append(
            f"byte {places} beside the count at anything but 0: a press is noise then, since that "
            f"may be a state, unless the count came to {above + 1} by counting; learn from a press "
            "with so high a count, too"
        )
    if count.size == 1 and not count.are_digits:
        words.append(
            f"whether the count goes on in a byte beside byte {count.place}: then presses are "
            "noise once it gets there; learn from one of them, too"
        )
    return words
