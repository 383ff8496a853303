"""``python -m tests.learning [METERS] [--alone] [--limits] [--narrow] [--fresh]``: the family.

Half as many with usual dates, signs and sums come with it, and a fifth as many of the classes that
were found by attack; of those only 0 wrong counts.
``--alone`` learns each from three presses with nobody to ask, ``--limits`` with what its display
can show told beforehand. A second table has a hundred fresh presses of every profile that was sure
(`tests.learning.fresh`); ``--fresh`` shows it alone, ``--narrow`` after lessons on things that read
much alike.
"""

from __future__ import annotations

import sys
from collections import Counter

from acquire.driverapi.registry import Registry
from tests.learning.attacks import attacked
from tests.learning.family import AGAIN, RIGHT, UNREAD, UNSURE, WRONG, draw, tried
from tests.learning.fresh import FEW, PRESSES, freshly, shares
from tests.learning.goal import AT_ONCE
from tests.learning.usual import usual

OPTIONS = ("--alone", "--limits", "--narrow", "--fresh")


def main(arguments: list[str]) -> int:
    """0 if the goal is met."""
    if unknown := [w for w in arguments if not w.isdecimal() and w not in OPTIONS]:
        print(__doc__, *([] if "--help" in unknown else [f"unknown: {unknown}"]))
        return 0 if "--help" in unknown else 2
    numbers = [int(word) for word in arguments if word.isdecimal()] or [1000]
    is_read = _fresh(numbers[0], arguments)
    return (
        int(not is_read)
        if "--fresh" in arguments
        else int(not (_all(numbers, arguments) and is_read))
    )


def _fresh(meters: int, arguments: list[str]) -> bool:
    """Whether fresh presses were read rightly, or told to be noise."""
    options = {word.strip("-"): word in arguments for word in ("--alone", "--limits", "--narrow")}
    names = ("sure", "presses", "read", "wrong", "noisy", "silent")
    print(_row("fresh presses", *names))
    told: list[str] = []
    total: Counter[str] = Counter()
    for title, drawn, share in (("family", draw, 1), ("usual", usual, 2), ("attack", attacked, 5)):
        rows = freshly(range(meters // share), Registry(), drawn, **options)
        figures = shares(rows)
        total += figures
        told += [line for row in rows.values() for line in row.examples]
        print(_row(title, *(figures[name] for name in names)), f"{_read(figures):.1%} read")
        for name, row in sorted(rows.items()):
            if row.noisy:
                print(_row(f"  {name}", *(getattr(row, one) for one in names)))
    print(*told, sep="\n")
    print(
        f"{total['sure']} sure profiles: {_read(total):.1%} of their fresh presses read, "
        f"{total['wrong']} read wrong; {total['noisy']} profiles read less than "
        f"{PRESSES - FEW} of {PRESSES}, {total['silent']} of them without a word\n"
    )
    return not total["wrong"] and not total["silent"]


def _read(figures: Counter[str]) -> float:
    return figures["read"] / max(1, figures["presses"])


def _all(numbers: list[int], arguments: list[str]) -> bool:
    """Whether the goal of the whole family is met."""
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
    return once >= AT_ONCE and not wrong


def _figures(name: str, row: Counter[str]) -> str:
    return _row(name, row.total(), row[RIGHT], row[AGAIN], row[UNREAD], row[UNSURE], row[WRONG])


def _row(name: str, *figures: object) -> str:
    return f"{name:<38}" + "".join(f" {figure:>7}" for figure in figures)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
