"""The yards that many tests begin with, each under its own name."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.unit.seen import Seen
from tests.yard import Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """A yard with its gloss meter plugged in, and nothing checked."""
    yard = Yard(tmp_path)
    yard.plug("shore")
    yield yard
    yard.close()


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    """A yard with boards beside it: its meter is checked, and a run of it is open."""
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.begin()
    yield seen
    seen.close()
