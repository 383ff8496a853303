"""A line or several by every command there is, most of them at the wrong moment."""

from __future__ import annotations

import contextlib
import io
import traceback
from collections.abc import Sequence
from pathlib import Path

from acquire.cli.entry import SECTIONS, run

NAMES = tuple(name for section in SECTIONS.values() for name in section)

# Those that stay and wait for presses, or for the bench to end: they get a process of their own.
STAYING: dict[str, tuple[tuple[str, ...], ...]] = {
    "check": (
        ("hand",), ("hand", "--abandon"), ("hand", "--abandon", "--yes"), ("hand", "--adjusted"),
        ("nobody",),
    ),
    "run": (
        ("trial.toml", "bare", "--with", "hand"), ("--resume",), ("--finish", "--why", "enough"),
    ),
    "checkpoint": (("gelcoat", "bare", "--by", "Ada", "--with", "hand"), ("x", "y", "--by", "Ada")),
    "study": (("hand", "--by", "Ada"), ("--resume",)),
    "watch": ((),),
}  # fmt: skip

LINES: dict[str, tuple[tuple[str, ...], ...]] = {
    **STAYING,
    "demo": (("--fast", "--keep", "bench.toml"),),
    "simulate": (("no-such-scenario.toml",), ("trial.toml",)),
    "learn": (("--tape", "bench.toml"), ("no-such-port", "--kind", "gloss")),
    "serve": ((), ("trial.toml",)),
    "stop": ((),),
    "devices": (("--json",),),
    "driver": (("list",), ("test", "no-such-driver")),
    "status": ((), ("--json",)),
    "next": ((), ("gelcoat", "--json"), ("x",)),
    "pieces": ((), ("--json",), ("T1", "--file", "kept.txt"), ("T9",)),
    "drift": ((), ("hand", "--json"), ("nobody",)),
    "targets": ((), ("gelcoat", "bare"), ("x",)),
    "readings": ((), ("gelcoat", "--all"), ("--loose",)),
    "type": (("hand", "91.4"), ("hand", "80.2"), ("hand", "adjusted"), ("meter-0", "91.4")),
    "take": (("meter-0",), ("hand",), ("nobody",)),
    "void": (
        ("--last", "--reason", "slipped"), ("3", "--reason", " "), ("99999999", "--reason", "x"),
    ),
    "assign": (
        ("5", "--trial", "gelcoat", "--stage", "bare", "--zone", "A1", "--replicate", "60",
         "--reason", "forgotten"),
        ("1", "--trial", "free", "--stage", "bare", "--zone", "A1", "--replicate", "1",
         "--reason", "let it count"),
    ),
    "note": (("sun came round",), ("", "--trial", "x"), ("--clap",), ("clap mark 1",)),
    "clock": (
        ("2026-05-11 14:30", "--reason", "radio clock"), ("noon", "--reason", "x"), ("2026-05-11",),
    ),
    "climate": (("21.4", "--humidity", "48"), ("900",)),
    "apply": (
        ("gelcoat", "A1", "--amount", "4 ml", "--yes"), ("gelcoat",), ("x", "A1", "--at", "noon"),
        ("gelcoat", "A1", "--take-back", "--reason", "wrong zone"),
    ),
    "wash": (
        ("gelcoat", "--count", "2", "--yes"),
        ("gelcoat", "--correct", "-9", "--reason", "no"), ("x",),
    ),
    "rate": (
        ("gelcoat", "cured", "--by", "Ada", "--scale", "water", "--zone", "A1", "--step", "1"),
        ("x", "--products", "--by", "Ada", "--plain"),
    ),
    "photo": (("gelcoat", "trial.toml"), ("x", "trial.toml"), ("gelcoat", "--check")),
    "close": ((),),
    "trial": (
        ("check", "trial.toml"), ("check", "bench.toml"), ("show", "gelcoat"),
        ("new", "--yes", "--id", "hidden", "--product", "Brine", "--blind"),
        ("key", "hidden", "--to", "Ada"), ("unseal", "gelcoat", "--by", "Ada", "--yes"),
        ("close", "hidden"), ("reopen", "hidden"),
        ("give-up", "gelcoat", "cured", "--zones", "A1", "--why", "rain"),
    ),
    "results": (("gelcoat",), ("gelcoat", "--out", "results.csv"), ("x", "--check-budgets")),
    "rescore": (("gelcoat", "--scorecard", "trial.toml"), ("x", "--scorecard", "yard")),
    "alltime": ((), ("--scorecard", "yard")),
    "import": (("kept.txt", "--mapping", "bench.toml"), ("x", "--mapping", "kept.txt", "--check")),
    "report": (("gelcoat", "--out", "page.html"), ("x",)),
    "figures": (("gelcoat", "--out", "figures"), ("x", "--out", "bench.toml")),
    "captions": (
        ("gelcoat", "--clap", "1", "--out", "film.vtt"), ("x", "--film-starts", "noon"),
    ),
    "package": (("gelcoat", "--out", "package"), ("x", "--out", "bench.toml")),
    "recompute": (("package",), ("trial.toml",)),
    "proof": (("1",), ("1", "--check"), ("1", "--wash"), ("99999999",)),
    "tape": (("list",), ("show", "1"), ("cut", "1", "--out", "cut.tape")),
    "replay": (("1",), ("bench.toml",)),
    "store": (("verify",), ("verify", "bench.toml")),
    "export": (("--all", "--out", "all.csv"), ("gelcoat", "--checks", "--format", "jsonl")),
    "verify": (("--area", "gloss", "--failed"), ("bench.toml",)),
}  # fmt: skip
"""By command: what is typed behind it. A command without an entry is not attacked."""

KNOWN = frozenset({0, 1, 2, 3})
"""Statuses that a command may end with; anything else is no end in order."""


def typed(bench: Path, line: Sequence[str]) -> tuple[int, str]:
    """One command line in this process: its status and what it said."""
    said = io.StringIO()
    with (
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(said),
        contextlib.chdir(bench.parent),
    ):
        try:
            code = run(["--bench", str(bench), *line])
        except Exception:
            return -1, traceback.format_exc()
    return code, said.getvalue()


def fault_of(line: Sequence[str], code: int, said: str) -> str:
    """What is wrong with how a command ended: a refusal must say what to do."""
    name = " ".join(line)
    if code not in KNOWN:
        return f"{name}: ended with {code}: {said[-300:]}"
    if "Traceback" in said or "fault of the program" in said:
        return f"{name}: {said[-600:]}"
    if code in (1, 3) and not said.strip():
        return f"{name}: ended with {code} and not a word"
    return ""
