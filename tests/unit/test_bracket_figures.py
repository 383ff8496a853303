"""What closes a pass, to the last digit: the view `brackets` over checks with chosen figures.

A pass of piece T1 (93.2 GU, limit 1.0) and of the straight line (limit 1.5) is followed by one
check or two, judged by wider limits, so that only the limits of the pass can close it. A check
closes it well where deviation plus uncertainty lie within its limit and badly where deviation less
uncertainty lie beyond (JCGM 106:2012, 8.3.2 and 8.3.3); on the limit is inside.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from acquire.store import StoreWriter
from acquire.store import rows as r
from acquire.store.check_rows import (
    CheckBeginRow,
    CheckJudgementRow,
    LinearityRow,
    PieceJudgementRow,
)
from acquire.store.rows import Row


class Piece(NamedTuple):
    mean: str
    u: str = "0.3"
    outcome: str = "pass"
    channel: str = "20"
    spread: str = "0.1"


class Line(NamedTuple):
    departure: str
    u: str = "0.4"
    outcome: str = "pass"


class Check(NamedTuple):
    """A judged check; `after` is the last reading that was recorded before."""

    outcome: str
    pieces: Sequence[Piece]
    lines: Sequence[Line] = ()
    after: int = 20
    channels: str = "20"
    quantity: str = "gloss"


class Notice(NamedTuple):
    after: int
    kind: str = "adjusted"


OPENING = Check("pass", [Piece("93.2")], [Line("0.1")], after=10)


def good(mean: str = "93.2", departure: str = "0.1") -> Check:
    return Check("pass", [Piece(mean)], [Line(departure)])


class Bench:
    """A store in which each case has a meter of its own."""

    def __init__(self, store: Path) -> None:
        self.writer = StoreWriter(store)
        self.ids = {"check": 0, "piece": 0, "line": 0, "notice": 0, "meter": 0}
        self.writer.append(
            [
                r.ConnectionRow(1, 1, 0, "shore", "/dev/shore", ""),
                r.SittingRow(1, 1, "bench"),
            ]
        )

    def take(self, name: str) -> int:
        self.ids[name] += 1
        return self.ids[name]

    def state(self, *happened: Check | Notice) -> tuple[object, object]:
        """How the pass stands after all of that, and by which of the checks, counted from 1."""
        serial = f"SH-{self.take('meter')}"
        passed = self.ids["check"] + 1
        rows = [*self._check(OPENING, serial, "1.0", "1.5")]
        for one in happened:
            rows += (
                [self._notice(one, serial)]
                if isinstance(one, Notice)
                else self._check(one, serial, "9", "9")
            )
        self.writer.append(rows)
        (row,) = self.writer.query("SELECT * FROM brackets WHERE check_id = ?", (passed,))
        closing = row["closing_check_id"]
        return row["state"], None if closing is None else closing - passed

    def _notice(self, one: Notice, serial: str) -> Row:
        number = self.take("notice")
        return r.NoticeRow(
            number, 1, "shore", 1, one.kind, "", b"J", 0, 1, serial, one.after
        )  # fmt: skip

    def _check(self, one: Check, serial: str, limit: str, line_limit: str) -> Iterator[Row]:
        number = self.take("check")
        yield CheckBeginRow(
            number, number, "shore", serial, one.quantity, one.channels, 1, "p", "{}", one.after
        )
        for piece in one.pieces:
            yield PieceJudgementRow(
                self.take("piece"), number, "T1", piece.channel, piece.outcome, 2, piece.mean,
                piece.spread, "93.2", "0", piece.u, limit, "0.4",
                "gloss_unit", None, "",
            )  # fmt: skip
        for line in one.lines:
            yield LinearityRow(
                self.take("line"), number, "T2", "20", "Z0", "T1", line.outcome, line.departure,
                line.u, line_limit, "gloss_unit", "",
            )  # fmt: skip
        expires = number + 10**9 if one.outcome == "pass" else None
        yield CheckJudgementRow(number, number, number, one.outcome, "", "", expires, one.after)


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    made = Bench(tmp_path_factory.mktemp("brackets") / "bench.sqlite")
    yield made
    made.writer.close()


@pytest.mark.parametrize(
    ("closing", "state"),
    [
        (good(), "bracketed"),
        (good("93.9"), "bracketed"),
        (good("92.5"), "bracketed"),
        (good("94.0"), "open"),
        (good("94.5"), "open"),
        (good("94.6"), "suspect"),
        (good("91.8"), "suspect"),
        (good(departure="1.1"), "bracketed"),
        (good(departure="-1.1"), "bracketed"),
        (good(departure="1.2"), "open"),
        (good(departure="1.9"), "open"),
        (good(departure="2.0"), "suspect"),
        (good(departure="-2.0"), "suspect"),
        (Check("pass", [Piece("93.2")]), "open"),
        (Check("pass", [], [Line("0.1")]), "open"),
        (Check("undecided", [Piece("93.2")], [Line("0.1")]), "open"),
        (Check("undecided", [Piece("95.6", "0")], [Line("0.1")]), "open"),
        (Check("undecided", [Piece("95.6")], [Line("0.1")]), "suspect"),
        (good()._replace(quantity="force"), "open"),
        (Check("fail", [Piece("99", outcome="fail")], quantity="force"), "open"),
    ],
)
def test_a_later_check_closes_by_the_limits_of_the_pass(
    bench: Bench, closing: Check, state: str
) -> None:
    assert bench.state(closing) == (state, None if state == "open" else 1)


BOTH = "20,60"


@pytest.mark.parametrize(
    ("pieces", "state"),
    [
        # It failed elsewhere and read the pass's own channel well: it says nothing.
        ([Piece("93.2"), Piece("99", outcome="fail", channel="60")], "open"),
        # It failed, and nothing is known of the channel of the pass though it covered it.
        ([Piece("99", outcome="fail", channel="60")], "suspect"),
        ([Piece("93.2", "0"), Piece("99", outcome="fail", channel="60")], "suspect"),
        ([Piece("93.2", outcome="fail"), Piece("93.2", channel="60")], "suspect"),
        # It failed by what a person had voided: no piece that stands in it did.
        ([Piece("93.2"), Piece("93.2", channel="60")], "suspect"),
    ],
)
def test_a_check_that_failed_closes_badly_by_what_it_says_of_the_channels_of_the_pass(
    bench: Bench, pieces: list[Piece], state: str
) -> None:
    closing = Check("fail", pieces, [Line("0.1")], channels=BOTH)
    assert bench.state(closing) == (state, None if state == "open" else 1)


def test_a_check_that_failed_at_another_channel_alone_closes_nothing(bench: Bench) -> None:
    failed = Check("fail", [Piece("99", outcome="fail", channel="60")], channels="60")
    assert bench.state(failed) == ("open", None)


def test_a_check_that_failed_at_another_channel_and_cannot_tell_at_this_one_closes_nothing(
    bench: Bench,
) -> None:
    near = Piece("94.0", outcome="undecided")
    failed = Check("fail", [Piece("99", outcome="fail", channel="60"), near], channels="20,60")
    assert bench.state(failed) == ("open", None)


@pytest.mark.parametrize(("first", "last"), [("94.6", "93.2"), ("93.2", "94.6")])
def test_the_first_check_that_closes_a_pass_is_the_one(bench: Bench, first: str, last: str) -> None:
    state = "suspect" if first == "94.6" else "bracketed"
    assert bench.state(good(first), good(last)._replace(after=30)) == (state, 1)


FOUND = Check("undecided", [Piece("93.9")], [Line("0.1")], after=15)


@pytest.mark.parametrize(
    ("happened", "state", "closing"),
    [
        # Nobody read the meter as it was found.
        ([Notice(10), good()], "suspect", None),
        ([Notice(15), good()], "suspect", None),
        # It was closed before it was re-adjusted, or never was.
        ([good(), Notice(20)], "bracketed", 1),
        ([Notice(9), good()], "bracketed", 1),
        ([Notice(15, "power-up"), good()], "bracketed", 1),
        # It was read as found, and that did not decide.
        ([FOUND, Notice(15), good()], "not closed", None),
        ([FOUND._replace(after=16), Notice(15), good()], "suspect", None),
        ([FOUND._replace(pieces=[Piece("93.9", "0")]), Notice(15), good()], "suspect", None),
        ([FOUND._replace(pieces=[Piece("93.9", spread="0.4")]), Notice(15)], "not closed", None),
        ([FOUND._replace(pieces=[Piece("93.9", spread="0.5")]), Notice(15)], "suspect", None),
        ([FOUND._replace(pieces=[Piece("93.9", channel="60")]), Notice(15)], "suspect", None),
        ([FOUND._replace(lines=[]), Notice(15), good()], "suspect", None),
        ([FOUND._replace(quantity="force"), Notice(15), good()], "suspect", None),
    ],
)
def test_a_re_adjustment_breaks_a_bracket_that_is_open(
    bench: Bench, happened: list[Check | Notice], state: str, closing: int | None
) -> None:
    assert bench.state(*happened) == (state, closing)
