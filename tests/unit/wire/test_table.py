"""A closed table knows its own codes and no others."""

from __future__ import annotations

import pytest

from acquire.wire import ClosedTable


def test_a_code_is_found_exactly_as_written_and_not_otherwise() -> None:
    table = ClosedTable({"GU": "gloss_unit"})
    assert table.find("GU") == "gloss_unit"
    for near in ("gu", " GU", "GU ", "G", "", "GUU"):
        assert table.find(near) is None


def test_a_code_with_two_meanings_is_refused() -> None:
    with pytest.raises(ValueError, match="once"):
        ClosedTable([("F", "newton"), ("F", "gram_force")])


def test_the_codes_are_told_in_the_order_of_the_table() -> None:
    table = ClosedTable([("N", "newton"), ("GF", "gram_force")])
    assert table.codes() == ("N", "GF")
    assert len(table) == 2
