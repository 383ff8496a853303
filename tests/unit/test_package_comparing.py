"""What is said of two texts of a package that differ: the place where they do."""

from __future__ import annotations

import pytest

from acquire.report.package.comparing import compare_pages, compare_rows
from acquire.report.words.columns import Column

LONG = "Net change: the change of the treated zones since bare, less the change of the control. "


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ("80.1", "80.2", "80.1, and computed anew 80.2"),
        ("", "80.2", "nothing, and computed anew 80.2"),
        (
            f"{LONG}Best first.",
            f"{LONG}Worst first.",
            "...nge of the control. Best first., and computed anew ...nge of the control. Worst",
        ),
        (
            f"{LONG}{LONG}",
            LONG,
            "...nge of the control. Net change: the change of the treated zo...",
        ),
    ],
)
def test_what_differs_is_shown_however_long_what_does_not(was: str, now: str, said: str) -> None:
    columns = (Column("reading_id", ""), Column("words", "", is_text=True))
    records = [{"reading_id": 7, "words": now}]
    found = compare_rows("readings.csv", ["reading_id,words", f'7,"{was}"'], columns, records)
    (line,) = found.unlike
    assert line.startswith("readings.csv row 1 (7), words: ")
    assert said in line


def test_two_pages_say_where_their_words_part() -> None:
    page = "<html><body><section id='answer'><p>{}</p></section></body></html>"
    (line,) = compare_pages(page.format(f"{LONG}old"), page.format(f"{LONG}new")).unlike
    assert line.endswith("old, and made anew ...nge of the control. new")
