"""``python -m tests.learning [METERS] [--alone]``: the whole family, and its figures."""

from __future__ import annotations

import sys
from collections import Counter

from acquire.driverapi.registry import Registry
from tests.learning.family import RIGHT, UNREAD, UNSURE, WRONG, tried


def main(arguments: list[str]) -> int:
    alone = "--alone" in arguments
    numbers = [int(word) for word in arguments if word.isdecimal()] or [1000]
    outcomes, lines, needed = tried(range(numbers[0]), Registry(), alone=alone)
    out = sys.stdout
    out.write("".join(f"{line}\n" for line in lines))
    out.write(f"{'layout':<36} {'meters':>6} {'right':>6} {'unread':>6} {'unsure':>6} {'wrong':>6}\n")
    total: Counter[str] = Counter()
    for name in sorted(outcomes):
        row = outcomes[name]
        if not name.startswith("hopeless"):
            total += row
        out.write(f"{name:<36} {row.total():>6} {row[RIGHT]:>6} {row[UNREAD]:>6} {row[UNSURE]:>6} {row[WRONG]:>6}\n")
    share = total[RIGHT] / max(1, total.total())
    out.write(f"{'of those that can be learned':<36} {total.total():>6} {total[RIGHT]:>6} {total[UNREAD]:>6} {total[UNSURE]:>6} {total[WRONG]:>6}  {share:.1%}\n")
    out.write(f"presses needed: {dict(sorted(needed.items()))}\n")
    return 0 if share >= 0.98 and not sum(row[WRONG] for row in outcomes.values()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
