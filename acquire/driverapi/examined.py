"""A driver family examined in a process of its own, with a time limit: what held and what did not.

Whatever the driver does (raises, hangs, ends the process, fills the memory), the report comes.
The thread that asks waits for it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from acquire.driverapi.elsewhere import asked, hangs, homeless, noted
from acquire.driverapi.outside import left_in
from acquire.driverapi.rules import LOOKED_AT_LAST, Finding, Rule
from acquire.errors import NotFound

LIMIT_S = 30.0
"""The longest stage of our own drivers takes a second; so one that is ten times as slow has time on
a busy computer, too."""
TOLD_AFTER = 0.1
"""After so much of the time limit whoever waits is told what for."""


class Report(NamedTuple):
    """What was found. `profiles` are those it was tried with, each with its number of captures.

    `tried` are the rules that were looked at to their end (with the last profile, where the
    examination broke off), `unfinished` those that were looked at and not so far. `faults` is what
    is wrong with the files that were given, `passed_over` the profiles of captures that none was
    tried with, `ended` why the examination did not come to its end; empty if it did. `nowhere`:
    there is no such family. `unrated` are the profiles with captures whose rates were held against
    nothing, since no speed of their line is declared.
    """

    profiles: dict[str, int]
    tried: frozenset[Rule]
    findings: tuple[tuple[str, Finding], ...]
    faults: tuple[str, ...]
    ended: str
    passed_over: tuple[str, ...] = ()
    nowhere: NotFound | None = None
    unrated: tuple[str, ...] = ()
    unfinished: frozenset[Rule] = frozenset()

    @property
    def is_sound(self) -> bool:
        """Whether the driver kept all that was tried, and something was."""
        return bool(self.profiles) and not (self.findings or self.faults or self.ended)

    @property
    def untried(self) -> tuple[Rule, ...]:
        """The rules that were not looked at, with any profile."""
        return tuple(rule for rule in Rule if rule not in self.tried)

    @property
    def is_kept(self) -> bool:
        """Whether every rule was tried and held."""
        return self.is_sound and not self.untried


class _Waited:
    """Tells whoever waits which stage takes its time, once a stage."""

    def __init__(
        self, book: Path, limit_s: float, waits: Callable[[str, float], None] | None
    ) -> None:
        self._book = book
        self._after_s = limit_s * TOLD_AFTER
        self._waits = waits
        self._told = 0

    def silent(self, silent_s: float) -> None:
        """Nothing was noted for so long."""
        if self._waits is None or silent_s < self._after_s:
            return
        entries = list(noted(self._book))
        if len(entries) != self._told:
            self._told = len(entries)
            stages = [one for one in entries if "stage" in one]
            self._waits(_where(stages[-1] if stages else {}), silent_s)


def examined(
    place: str,
    *,
    profiles: Sequence[Path] = (),
    folders: Sequence[Path] = (),
    captures: Sequence[Path] = (),
    shipped: Path | None = None,
    seed: int = 1,
    spoilt_bytes: int = 100_000,
    limit_s: float = LIMIT_S,
    waits: Callable[[str, float], None] | None = None,
) -> Report:
    """The report of a family, by its installed name or as ``module:object``.

    It is tried with the `profiles` (files); without any with all that it takes of those in
    `folders` and in the folder ``profiles`` of its own package. Where no `captures` are given
    either it is held against those in the folder `shipped` and in the folder ``captures`` of its
    own package. `limit_s` is how long a stage may take; one that takes a tenth of it is told to
    `waits`, once, with the seconds it has taken.
    """
    task = {
        "place": place,
        "profiles": [str(path.absolute()) for path in profiles],
        "folders": [str(path.absolute()) for path in folders],
        "captures": [str(path.absolute()) for path in _files(captures)],
        "shipped": "" if shipped is None else str(shipped.absolute()),
        "seed": seed,
        "bytes": spoilt_bytes,
    }
    with tempfile.TemporaryDirectory(prefix="coatbench-") as folder:
        book = Path(folder) / "found.jsonl"
        book.touch()
        # A driver finds nothing there that another one left, and leaves nothing in the user's.
        empty = Path(folder) / "empty"
        empty.mkdir()
        with asked(json.dumps(task).encode()) as given:
            process = subprocess.Popen(  # noqa: S603 - our own program
                [sys.executable, "-m", "acquire.driverapi.examiner", str(book)],
                stdin=given,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                # The command of an environment does not look in its own folder by itself.
                env=homeless(empty, *([os.curdir] if ":" in place else [])),
                cwd=empty,
            )
        try:
            has_hung = hangs(process, book, limit_s, _Waited(book, limit_s, waits).silent)
        finally:
            process.kill()
            process.wait()
        entries = list(noted(book))
        if left := left_in(empty):
            entries.append({"rule": Rule.APART.value, "what": f"apart: {left}"})
        return _report(entries, limit_s if has_hung else None, process.returncode)


def _files(captures: Sequence[Path]) -> Iterator[Path]:
    """The captures of files and folders."""
    for path in captures:
        yield from sorted(path.glob("**/*.toml")) if path.is_dir() else [path]


def _where(at: dict[str, Any]) -> str:
    whose = f" with profile {at['profile']}" if at.get("profile") else ""
    return f"the stage {at.get('stage', 'the beginning')!r}{whose}"


def _tries(at: dict[str, Any]) -> set[Rule]:
    """The rules that a stage looks at."""
    return {Rule(rule) for rule in at.get("tries", ())}


def _broken_by_ending(tries: set[Rule]) -> Rule | None:
    """The rule that is broken where a driver hangs or breaks off in a stage that looks at these.

    Elsewhere it shows nothing of the stage's own rule, which was not tried to its end then.
    """
    return next((rule for rule in (Rule.BYTES, Rule.INTERFACE) if rule in tries), None)


def _report(entries: Sequence[dict[str, Any]], hung_s: float | None, status: int) -> Report:
    profiles: dict[str, int] = {}
    tried: dict[str, set[Rule]] = {}
    findings: list[tuple[str, Finding]] = []
    faults: list[str] = []
    passed_over: tuple[str, ...] = ()
    nowhere: NotFound | None = None
    unrated: list[str] = []
    at: dict[str, Any] = {}
    ended = "" if any("done" in entry for entry in entries) else None
    for entry in entries:
        match entry:
            case {"captures": int(count), "profile": str(name)}:
                profiles[name] = count
            case {"stage": str(), "tries": list()}:
                tried.setdefault(at.get("profile", ""), set()).update(_tries(at))
                at = entry
                if entry["stage"] == "rates" and not entry["tries"] and profiles[entry["profile"]]:
                    unrated.append(entry["profile"])
            case {"rule": str(rule), "what": str(what)}:
                findings.append((entry.get("profile", ""), Finding(Rule(rule), what)))
            case {"fault": str(what)}:
                faults.append(what)
            case {"passed_over": list(names)}:
                passed_over = tuple(names)
            case {"nowhere": [str(what), str(got), str(wanted), str(step)]}:
                nowhere = NotFound(what, got=got, wanted=wanted, next_step=step)
            case {"ended": str(what)}:
                ended = f"{what} came out of it"
    if ended is None:
        how = f"ended the program with status {status}" if hung_s is None else ""
        ended = how or f"did not come back within {hung_s:g} s"
    if ended:
        whose = at.get("profile", "")
        if (broken := _broken_by_ending(_tries(at))) is not None:
            findings.append((whose, Finding(broken, f"{at['stage']}: the driver {ended}")))
        ended = f"the driver {ended}, in {_where(at)}"
        begun = _tries(at).union(*tried.values())
        # What the last profile was not tried with does not hold because another one kept it, nor
        # what an earlier stage found to hold where this one or the last ones look at it again.
        finished = tried.get(whose, set()) - _tries(at) - LOOKED_AT_LAST
    else:
        begun = finished = _tries(at).union(*tried.values())
    return Report(
        profiles,
        frozenset(finished),
        tuple(findings),
        tuple(faults),
        ended,
        passed_over,
        nowhere,
        tuple(unrated),
        frozenset(begun - finished),
    )
