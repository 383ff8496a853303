"""What holds for every test: it leaves no thread, no process and no open file behind."""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import shutil
import sys
import tempfile
import threading
import warnings
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import psutil
import pytest
from _pytest.assertion.rewrite import AssertionRewritingHook
from hypothesis import settings

_GRACE_S = 30.0
_RECKONING = 8
"""Files that reckon behind each that waits: then the last of those comes well before the end."""

# Where a surrounding forbids compiled files, each of the hundreds of processes that tests start,
# and each worker, compiles the whole house anew: a quarter of what the suite takes.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Stores write through to what holds them, which is most of what a test on a disk waits for and a
# third of its processor. Memory keeps them as well, where it has room and may run what lies in it.
_MEMORY = Path("/dev/shm")
_ROOM_BYTES = 4 << 30
if (
    "TMPDIR" not in os.environ
    and os.access(_MEMORY, os.W_OK | os.X_OK)
    and shutil.disk_usage(_MEMORY).free > _ROOM_BYTES
    and not os.statvfs(_MEMORY).f_flag & os.ST_NOEXEC
):
    # Workers and the processes that tests start have it from here.
    os.environ["TMPDIR"] = tempfile.tempdir = str(_MEMORY)

# So many examples where a test does not say how many, and the same ones each time.
# COATBENCH_EXAMPLES takes a longer look, at others each time.
_LONGER = os.environ.get("COATBENCH_EXAMPLES")
settings.register_profile(
    "suite", max_examples=int(_LONGER or 40), deadline=None, derandomize=_LONGER is None
)
settings.load_profile("suite")


# An editable install has pytest rewrite each assertion of the program for the plug-ins that come
# with it: compiled once more, and slower than what users run. Only those of the tests are of use.
for _finder in sys.meta_path:
    if isinstance(_finder, AssertionRewritingHook):
        with contextlib.suppress(AttributeError):
            _finder._must_rewrite.discard("acquire")
            _finder._marked_for_rewrite_cache.clear()


@pytest.fixture(autouse=True)
def _leaves_nothing_running() -> Iterator[None]:
    threads_before = set(threading.enumerate())
    children_before = {p.pid for p in _children()}
    yield
    for thread in set(threading.enumerate()) - threads_before:
        thread.join(_GRACE_S)
    left = [t.name for t in set(threading.enumerate()) - threads_before]
    assert not left, f"threads left running: {left}"
    children = [p for p in _children() if p.pid not in children_before]
    _, alive = psutil.wait_procs(children, timeout=_GRACE_S)
    names = [" ".join(p.cmdline()) for p in alive]
    for process in alive:
        process.kill()
    assert not names, f"processes left running: {names}"


def _children() -> list[psutil.Process]:
    """Every process that this one has started, and what those have started."""
    if hasattr(os, "waitid"):
        try:
            # Quick, and for most tests the whole answer; looking through all processes is slow.
            os.waitid(os.P_ALL, 0, os.WEXITED | os.WNOHANG | os.WNOWAIT)
        except ChildProcessError:
            return []
    return psutil.Process().children(recursive=True)


def pytest_xdist_auto_num_workers() -> int:
    """Two workers more than processors: much of the suite waits for devices and daemons."""
    return (os.cpu_count() or 1) + 2


def pytest_sessionstart(session: pytest.Session) -> None:
    """Each worker begins to load the tests at another place, so that each compiles a part of them.

    In one order, all of them would compile the same file at the same time, one after the other.
    """
    worker = os.environ.get("PYTEST_XDIST_WORKER", "").removeprefix("gw")
    if not worker:
        return
    root = session.config.rootpath
    folders = [folder for name in session.config.args if (folder := root / name).is_dir()]
    files = sorted(
        file
        for folder in folders
        for file in folder.rglob("test_*.py")
        if (file.parent / "__init__.py").exists()
    )
    first = len(files) * int(worker) // int(os.environ["PYTEST_XDIST_WORKER_COUNT"])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for file in files[first:] + files[:first]:
            name = ".".join(file.relative_to(root).with_suffix("").parts)
            # What does not load, or is left out, the collection tells of.
            with contextlib.suppress(Exception, pytest.skip.Exception):
                importlib.import_module(name)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A file that waits for devices and daemons, then some that reckon, and so on.

    Where all workers wait at the same time, processors are idle. Of those that wait the long ones
    come first, so that none of them is alone at the end.
    """
    if _LONGER:
        for item in items:
            item.add_marker(pytest.mark.timeout(0))
    files: dict[Path, list[pytest.Item]] = {}
    for item in items:
        files.setdefault(item.path, []).append(item)
    slow = {item.path for item in items if item.get_closest_marker("slow") is not None}
    waiting = [file for file in files if file in slow or file.parent.name == "flow"]
    others = iter([file for file in files if file not in waiting])
    order: list[Path] = []
    for file in sorted(waiting, key=lambda file: file not in slow):
        order += [file, *islice(others, _RECKONING)]
    items[:] = [item for file in (*order, *others) for item in files[file]]


def pytest_collection_finish() -> None:
    """What was collected lives to the end: no search for garbage has to look at it again.

    It is most of what the process holds, and every full search took some tenths of a second.
    """
    gc.collect()
    gc.freeze()
