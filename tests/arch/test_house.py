"""The house keeps its walls: layers, types, style, and who may import what."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("acquire", "drivers", "simulators")
SOURCES = sorted(p for package in PACKAGES for p in (ROOT / package).rglob("*.py"))


def tool(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(Path(sys.executable).with_name(arguments[0])), *arguments[1:]],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    "arguments",
    [("lint-imports",), ("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",)],
    ids=["layers", "style", "format", "types"],
)
def test_the_code_keeps_its(arguments: tuple[str, ...]) -> None:
    found = tool(*arguments)
    assert found.returncode == 0, (found.stdout + found.stderr)[-6000:]


@cache
def text_of(path: Path) -> str:
    """A source file, read once for all that look at it."""
    return path.read_text(encoding="utf-8")


@cache
def imports_of(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(text_of(path))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module.split(".")[0])
    return found


@pytest.mark.parametrize(
    ("library", "homes"),
    [
        ("pint", {"acquire/units.py"}),
        ("serial", {"acquire/link/serial.py", "acquire/link/inventory.py"}),
        ("usb", ("acquire/link/usb", "simulators/usb/")),
        ("sqlite_utils", {"acquire/store/database.py"}),
        ("matplotlib", "acquire/report/"),
        ("jinja2", "acquire/report/"),
        ("click", "acquire/cli/"),
    ],
)
def test_a_library_is_imported_only_where_it_lives(
    library: str, homes: set[str] | str | tuple[str, ...]
) -> None:
    naming = re.compile(rf"\b{library}\b")  # to parse all sources takes longer than all else here
    users = {
        p.relative_to(ROOT).as_posix()
        for p in SOURCES
        if naming.search(text_of(p)) and library in imports_of(p)
    }
    if library != "usb":
        assert users, f"nobody imports {library}: why do we depend on it?"
    strays = {
        u
        for u in users
        if not (u.startswith(homes) if isinstance(homes, str | tuple) else u in homes)
    }
    assert not strays


def test_the_special_functions_are_imported_in_one_place() -> None:
    users = {p.relative_to(ROOT).as_posix() for p in SOURCES if "scipy.special" in text_of(p)}
    assert users == {"acquire/analysis/laws/special.py"}


def test_threads_are_started_in_one_place() -> None:
    starters = {
        p.relative_to(ROOT).as_posix()
        for p in SOURCES
        if p.parts[-2] != "simulators" and "Thread(" in text_of(p)
    }
    assert {s for s in starters if s.startswith(("acquire/", "drivers/"))} == {
        "acquire/supervise.py"
    }


def test_only_the_clock_asks_for_the_time_of_day() -> None:
    asking = {
        p.relative_to(ROOT).as_posix()
        for p in SOURCES
        if p.parts[len(ROOT.parts)] == "acquire"
        and any(
            word in text_of(p) for word in ("time.time", "datetime.now", "utcnow", "perf_counter")
        )
    }
    assert asking == {"acquire/clock.py"}


def test_no_file_has_outgrown_one_noun() -> None:
    long = {
        p.relative_to(ROOT).as_posix(): lines
        for p in SOURCES
        if (lines := len(text_of(p).splitlines())) > 400
    }
    assert not long


def test_every_module_says_what_it_does() -> None:
    says = re.compile(r'(?:#.*\n|\s)*r?"""\s*[^"\s]')
    silent = [p.relative_to(ROOT).as_posix() for p in SOURCES if not says.match(text_of(p))]
    assert not silent


def test_the_top_level_holds_what_is_agreed_and_nothing_else() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if tracked.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in tracked.stdout.splitlines()}
    agreed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "acquire", "drivers",
              "simulators", "tests", "config"}  # fmt: skip
    assert {name for name in top if not name.startswith(".")} <= agreed
