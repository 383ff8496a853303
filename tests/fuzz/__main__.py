"""``python -m tests.fuzz [--bytes 50_000_000] [--seed 1]``: spoiled bytes for every driver.

Each driver family gets so many random and mutated bytes, spread over the profiles of it that ship,
in random chunks. What may not be: an exception, a hang, bytes that cost far more time than others,
memory without bound; of a wire with a checksum a value that was not sent, of one without a value
outside of grammar and range. A fault is printed with the shortest case that was found for it, and
the command that tries it again.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

from tests.fuzz.run import Outcome, run
from tests.fuzz.subjects import Subject, subjects
from tests.fuzz.trial import Case, case_of, tried
from tests.fuzz.truth import Truth

NIGHTLY_BYTES = 50_000_000
HANGS_AFTER_S = 120.0


class Hang(BaseException):
    """A case that did not come to its end."""


class Watchdog:
    """Breaks off what hangs, where the system has such a clock, and knows what it was.

    The clock is that of the processor: no driver waits, and a busy computer is no hang.
    """

    def __init__(self, after_s: float) -> None:
        self.what = ""
        self._after_s = after_s
        self._has_clock = hasattr(signal, "SIGVTALRM")

    def __call__(self, what: str) -> None:
        self.what = what
        if self._has_clock:
            signal.setitimer(signal.ITIMER_VIRTUAL, self._after_s)

    @contextlib.contextmanager
    def watching(self) -> Iterator[None]:
        if not self._has_clock:
            yield
            return

        def broken_off(*_: object) -> None:
            raise Hang

        before = signal.signal(signal.SIGVTALRM, broken_off)
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
            signal.signal(signal.SIGVTALRM, before)


def main(arguments: list[str]) -> int:
    """0 if nothing was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--bytes", type=int, default=NIGHTLY_BYTES, help="for each driver family")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="a family or a profile")
    parser.add_argument("--case", type=case_of, help="one case of the profile, as a fault names it")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures there too")
    chosen = parser.parse_args(arguments)
    every = [one for one in subjects() if chosen.only in (None, one.profile, one.family.name)]
    if not every:
        parser.error(f"there is no family and no profile {chosen.only!r}")
    if chosen.case is not None:
        return _one(every[0], chosen.case)
    print(
        _row("driver", "profile", "bytes", "cases", "values", "by chance", "s", "slowest", "kept")
    )
    outcomes = []
    for subject in every:
        share = sum(one.family.name == subject.family.name for one in every)
        outcome = watched(subject, chosen.bytes // share + 1, chosen.seed)
        outcomes.append(outcome)
        print(
            _row(
                outcome.family,
                outcome.profile,
                f"{outcome.received:,}",
                f"{outcome.cases:,}",
                f"{outcome.values:,}",
                f"{outcome.chance_hits:,}",
                f"{outcome.seconds:.1f}",
                f"{outcome.slowest_times:.1f}x",
                f"{outcome.kept_bytes:,}",
            )
        )
        for fault in outcome.faults:
            print(f"  FAULT {fault}")
        sys.stdout.flush()
    if chosen.json is not None:
        chosen.json.write_text(json.dumps([o._asdict() for o in outcomes], indent=1) + "\n")
    found = sum(len(o.faults) for o in outcomes)
    total = sum(o.received for o in outcomes)
    print(f"{total:,} bytes with seed {chosen.seed}: {found or 'no'} faults")
    return 1 if found else 0


def watched(
    subject: Subject, least_bytes: int, seed: int, hangs_after_s: float = HANGS_AFTER_S
) -> Outcome:
    """What came of a profile; one that hangs is broken off."""
    dog = Watchdog(hangs_after_s)
    try:
        with dog.watching():
            return run(subject, least_bytes, seed, watch=dog)
    except Hang:
        fault = f"did not come to its end within {hangs_after_s:g} s of processor"
        told = f"{fault}\n    again: {dog.what}"
        return Outcome(subject.family.name, subject.profile, 0, 0, 0, 0, 0, 0, 0, (told,))


def _one(subject: Subject, case: Case) -> int:
    found = tried(subject, case, Truth(subject))
    print(f"{subject.profile} {case.label}: {found.received} bytes, {found.values} values")
    print(f"FAULT {found.fault}" if found.fault else "no fault")
    return 1 if found.fault else 0


def _row(*cells: str) -> str:
    driver, profile, *figures = cells
    return f"{driver:<8} {profile:<21}" + "".join(f" {cell:>11}" for cell in figures)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
