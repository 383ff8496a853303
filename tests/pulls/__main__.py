"""``python -m tests.pulls [TRACES] [--from SEED] [--faults]``: pulls found in traces of truth.

Exit status 0 where 99 of 100 pulls are found with their peak within 0.5 %, and none is invented.
"""

from __future__ import annotations

import argparse
import itertools
import sys

import numpy as np

from tests.pulls.scoring import scored

_RISES = (0.005, 0.01, 0.02, 0.05)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.pulls", description=__doc__)
    parser.add_argument("traces", nargs="?", type=int, default=1000)
    parser.add_argument("--from", dest="first", type=int, default=0, metavar="SEED")
    parser.add_argument("--faults", action="store_true", help="a line for each one missed")
    chosen = parser.parse_args()
    score = scored(range(chosen.first, chosen.first + chosen.traces))
    if chosen.faults:
        print(*score.faults, sep="\n")
    of = max(1, score.pulls)
    print(f"{score.traces} traces, {score.pulls} whole pulls")
    print(f"found: {score.found} ({score.found / of:.2%})")
    print(
        "peak, less what of it lies above all samples, within 0.5 % of the largest force at a "
        f"sample: {score.near_sampled / of:.2%}"
    )
    print(f"peak within 0.5 % of the largest force of all: {score.near_true / of:.2%}")
    for low, high in itertools.pairwise((0, *_RISES, 1)):
        count, near, mean = score.by_rise(low, high)
        print(
            f"the same where it gains {low:.1%} to {high:.1%} from one sample to the next: {near} "
            f"of {count} ({near / max(1, count):.2%}), off by {mean:+.3%} on average"
        )
    print(f"invented: {score.invented}")
    print(f"cut off by the range: {score.cut_off}, taken all the same: {score.cut_off_taken}")
    print(
        f"a knock on the peak: {score.hidden}, taken all the same: {score.hidden_taken}, "
        f"of these with another peak: {score.hidden_wrong}, told: {score.hidden_told}"
    )
    print(f"a knock on the slide: {score.struck}, told: {score.struck_told}")
    print(f"rejected: {dict(score.reasons)}")
    for name, off in (
        ("peak, share", score.peaks),
        ("peak off by its u", score.normal),
        ("kinetic, share", score.kinetic),
        ("kinetic with a knock on the slide, share", score.kinetic_struck),
        ("dwell, s", score.dwell),
    ):
        low, middle, high = np.quantile(off, (0.025, 0.5, 0.975)) if off else (0, 0, 0)
        print(f"{name}: {low:+.4f} {middle:+.4f} {high:+.4f} (2.5, 50, 97.5 %)")
    good = score.found >= 0.99 * of and score.near_sampled >= 0.99 * of and not score.invented
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
