"""``python -m tests.learning [METERS] [--alone] [--limits]``: the whole family, and its figures.

Half as many with usual dates, signs and sums come with it, and a fifth as many of the classes that
were found by attack; of those only 0 wrong counts.
``--alone`` learns each from three presses with nobody to ask, ``--limits`` with what its display
can show told beforehand.
"""

from __future__ import annotations

import sys
from collections import Counter

from acquire.driverapi.registry import Registry
from tests.learning.attacks import attacked
from tests.learning.family import AGAIN, RIGHT, UNREAD, UNSURE, WRONG, tried
from tests.learning.goal import AT_ONCE
from tests.learning.usual import usual


def main(arguments: list[str]) -> int:
    """0 if the goal is met."""
    numbers = [int(word) for word in arguments if word.isdecimal()] or [1000]
    outcomes, lines, needed = tried(
        range(numbers[0]),
        Registry(),
        alone="--alone" in arguments,
        limits="--limits" in arguments,
    )
    usually, missed, _ = tried(range(numbers[0] // 2), Registry(), drawn=usual)
    outcomes.update(usually)
    lines += missed
    hard, more, _ = tried(range(numbers[0] // 5), Registry(), drawn=attacked)
    outcomes.update(hard)
    print(*lines, *(line for line in more if WRONG in line), sep="\n")
    print(_row("layout", "meters", RIGHT, "again", "unread", UNSURE, "wrong"))
    total: Counter[str] = Counter()
    often: Counter[str] = Counter()
    for name, row in sorted(outcomes.items()):
        total += Counter() if name.startswith(("hopeless", "attack", "usual")) else row
        often += row if name.startswith("usual") else Counter()
        print(_figures(name, row))
    once = total[RIGHT] / max(1, total.total())
    share = once + total[AGAIN] / max(1, total.total())
    figures = _figures("all that can be learned", total)
    print(figures, f"{once:.1%} right, {share:.1%} once an unread press was taught")
    print(_figures("usual dates, signs, sums and fields", often))
    print(f"presses that were needed: {dict(sorted(needed.items()))}")
    wrong = sum(row[WRONG] for row in outcomes.values())
    return 0 if once >= AT_ONCE and not wrong else 1


def _figures(name: str, row: Counter[str]) -> str:
    return _row(name, row.total(), row[RIGHT], row[AGAIN], row[UNREAD], row[UNSURE], row[WRONG])


def _row(name: str, *figures: object) -> str:
    return f"{name:<38}" + "".join(f" {figure:>7}" for figure in figures)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
