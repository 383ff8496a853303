"""Every store that a daemon of these tests has made is held against its seals and its checks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.errors import CoatbenchError
from acquire.report.proof.rejudge import rejudge_all
from acquire.store import StoreReader
from acquire.store.verify import verify


@pytest.fixture(autouse=True)
def seals_hold(tmp_path: Path) -> Iterator[None]:
    """What was recorded fits its seals, and every check comes out again as it was judged."""
    yield
    for path in tmp_path.rglob("*.sqlite"):
        try:
            reader = StoreReader(path)
        except CoatbenchError:
            continue  # no store, or one of before: the test was about that
        with reader:
            assert verify(reader).misfit is None, path
            for check in rejudge_all(reader):
                assert check.holds, (path, check)
