"""``python -m tests.attack [--attacks 20] [--more 100] [--seed 1]``: attacks on real daemons.

Each attack asks everything once in an order of its own, by its seed, and then so many acts more. A
fault is printed with what came before it; the same seed draws the same acts again.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from tests.attack.attack import Attack


def main(arguments: list[str]) -> int:
    """0 if nothing was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.attack", description=__doc__)
    parser.add_argument("--attacks", type=int, default=20)
    parser.add_argument("--more", type=int, default=100, help="acts behind the whole deck")
    parser.add_argument("--seed", type=int, default=1, help="of the first attack")
    chosen = parser.parse_args(arguments)
    found = 0
    for seed in range(chosen.seed, chosen.seed + chosen.attacks):
        begun = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder:
            attack = Attack(Path(folder), seed)
            faults = attack.run(chosen.more)
        took_s = time.perf_counter() - begun
        print(f"seed {seed}: {len(attack.done)} acts in {took_s:.0f} s, {len(faults)} faults")
        for fault in faults:
            print(f"  FAULT {fault}")
        sys.stdout.flush()
        found += len(faults)
    print(f"{chosen.attacks} attacks: {found or 'no'} faults")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
