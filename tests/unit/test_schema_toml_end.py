"""A key that stands twice is told as that, also on a last line without a line end."""

from __future__ import annotations

import pytest

from acquire.errors import SettingsError
from acquire.schema import parse_toml


@pytest.mark.parametrize("text", ["size = 1\nsize = 2", "size = 1\nsize = 2\n"])
def test_a_key_that_stands_twice_is_told_wherever_the_file_ends(text: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_toml(text, "berth.toml")
    (fault,) = caught.value.faults
    assert fault.path.startswith("line 2")
    assert (fault.got, fault.wanted) == ("'size = 2'", "each key once in a table")


def test_what_is_begun_and_not_ended_is_told_as_that() -> None:
    with pytest.raises(SettingsError) as caught:
        parse_toml("size =", "berth.toml")
    assert caught.value.faults[0].got == "the end of the file"
