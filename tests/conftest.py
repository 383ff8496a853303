"""What holds for every test: it leaves no thread, no process and no open file behind."""

from __future__ import annotations

import gc
import os
import sys
import threading
from collections.abc import Iterator

import psutil
import pytest
from hypothesis import settings

_GRACE_S = 5.0

# Where a surrounding forbids compiled files, each of the hundreds of processes that tests start,
# and each worker, compiles the whole house anew: a quarter of what the suite takes.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# So many examples where a test does not say how many, and the same ones each time.
# COATBENCH_EXAMPLES takes a longer look, at others each time.
_LONGER = os.environ.get("COATBENCH_EXAMPLES")
settings.register_profile(
    "suite", max_examples=int(_LONGER or 40), deadline=None, derandomize=_LONGER is None
)
settings.load_profile("suite")


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
    """A worker more than processors: much of the suite waits for devices and daemons."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files of long tests first, so that none of them is alone at the end."""
    if _LONGER:
        for item in items:
            item.add_marker(pytest.mark.timeout(0))
    items.sort(key=lambda item: item.get_closest_marker("slow") is None)


def pytest_collection_finish() -> None:
    """What was collected lives to the end: no search for garbage has to look at it again.

    It is most of what the process holds, and every full search took some tenths of a second.
    """
    gc.collect()
    gc.freeze()
