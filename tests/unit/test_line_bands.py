"""Lines that name their band, as `drivers/line/WIRE.md` has them."""

from __future__ import annotations

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn.profile.proved import readings

PROFILE = r"""
kind = "transmittance"
[line]
baud_rate = 9600
[text]
terminator = "\r\n"
[[message]]
means = "reading"
pattern = '(?P<band>UVA|VIS|IR),(?P<value>\d{1,3}\.\d)'
[unit]
default = "percent"
[band]
tokens = { UVA = "315-400", VIS = "380-780" }
[press]
echo_window_s = 1.0
"""


@pytest.mark.parametrize(
    ("line", "read"),
    [
        ("UVA,3.2", [("315-400", "3.2")]),
        ("VIS,88.1", [("380-780", "88.1")]),
        ("IR,90.1", []),
        ("NIR,90.1", []),
    ],
)
def test_a_line_is_a_value_of_the_band_that_it_names_and_of_no_other_one(
    line: str, read: list[tuple[str, str]]
) -> None:
    (here,) = readings("line", PROFILE, [f"{line}\r\n".encode()], Registry())
    assert [(one.channel, str(one.value)) for one in here] == read
