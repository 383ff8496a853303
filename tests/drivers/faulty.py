"""The faults that a family tells of a profile, for tests."""

from __future__ import annotations

from typing import Any

import pytest

from acquire.driverapi import Family
from acquire.errors import SettingsError


def told(family: Family, table: dict[str, Any]) -> dict[str, tuple[str, str]]:
    """Path to (got, wanted) of every fault of a profile that has some."""
    with pytest.raises(SettingsError) as caught:
        family.driver(table, "profile test")
    assert caught.value.source == "profile test"
    return {fault.path: (fault.got, fault.wanted) for fault in caught.value.faults}
