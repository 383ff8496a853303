"""Every codec takes far more bytes a second than its fastest real line brings.

The goal is twenty times (``python -m tests.benchmarks --only codecs``); held here is half of it in
processor time, since a suite runs beside other work.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.codecs import measure_codecs

FACTOR = 10


@pytest.mark.slow
def test_every_codec_is_many_times_faster_than_its_line(tmp_path: Path) -> None:
    found = measure_codecs(tmp_path)
    ratios = {str(item["name"]): item["ratio"] for item in (one.as_item() for one in found)}
    families = {name.split()[1].rstrip(",") for name in ratios}
    assert families == {"line", "frame", "modbus", "keyed", "usbtmc", "hid"}
    assert {name: ratio for name, ratio in ratios.items() if not ratio >= FACTOR} == {}  # type: ignore[operator]
