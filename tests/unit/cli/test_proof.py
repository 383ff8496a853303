"""What is typed at `coatbench proof`, where it is no number of anything."""

from __future__ import annotations

import pytest

from acquire.cli.entry import run


@pytest.mark.parametrize("typed", ["abc", "-1", "0", "1.5", "", "²"])
@pytest.mark.parametrize("check", [[], ["--check"]])
def test_what_is_no_number_of_a_row_is_told_with_what_is_and_the_next_step(
    typed: str, check: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["proof", *check, typed]) == 1
    what = "check" if check else "reading"
    assert capsys.readouterr().err.splitlines() == [
        f"coatbench: no {what} is followed back",
        f"  got     {typed!r}",
        f"  wanted  the number of a {what}, a whole number from 1 on",
        "  next    coatbench report TRIAL names the numbers of all readings and checks",
    ]
