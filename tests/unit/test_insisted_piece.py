"""A meter that reads its piece as another one's: a person can insist, and the check fails by it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.cli.entries import typed_lines
from acquire.cli.faults import NOT_DONE
from acquire.errors import Refused
from acquire.live.entry import insisted
from acquire.report.proof.rejudge import rejudge
from acquire.store import StoreReader
from tests.unit.test_as_found import Bent
from tests.yard import Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """T1 93.2, Z0 0.0 and T2 48.7 GU; a pass, and a run that goes on."""
    yard = Bent(tmp_path)
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, "93.2", "93.2", "0.0", "0.0", "48.7", "48.7")
    yard.begin()
    press(yard, "80.1")
    yield yard
    yard.close()


def press(yard: Yard, *values: str) -> None:
    for value in values:
        yard.clock.advance(1)
        yard.press("shore", value)


def insist(yard: Yard, piece: str) -> None:
    yard.act(lambda at: yard.acts.checks.insist("shore", piece, at))


def test_a_meter_that_is_on_its_piece_as_a_person_says_fails_its_check_and_makes_suspect(
    yard: Yard,
) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, "48.5", "48.5")
    assert "coatbench check shore --on T1" not in yard.readings()[-1]["loose_reason"]
    press(yard, "48.5")
    assert yard.readings()[-1]["loose_reason"].endswith(
        "Next: put shore on T1. If it is on T1, say so, and it counts: "
        "coatbench check shore --on T1"
    )
    insist(yard, "T1")
    press(yard, "48.5", "48.5", "0.0", "0.0", "25.3", "25.3")
    (check,) = yard.writer.query("SELECT * FROM checks WHERE check_id = 2")
    assert check["outcome"] == "fail"
    (found,) = yard.readings("role = 'run'")
    assert (found["bracket"], found["counts"]) == ("suspect", 0)
    (said,) = yard.writer.query("SELECT * FROM incident WHERE kind = 'piece insisted on'")
    assert said["message"].startswith("a person says that shore is on T1 in check 2")
    with StoreReader(yard.bench.store) as store:
        assert rejudge(store, 2).holds


def test_who_insisted_on_one_piece_has_said_nothing_of_the_next(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    insist(yard, "T1")
    press(yard, "48.5", "48.5", "48.6")
    assert [row["role"] for row in yard.readings()[-3:]] == ["check", "check", "loose"]
    assert "put shore on Z0" in yard.readings()[-1]["loose_reason"]


def test_nobody_can_insist_on_a_piece_that_the_check_is_not_at(yard: Yard) -> None:
    with pytest.raises(Refused, match="asked to be on no such piece now"):
        insist(yard, "T1")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for piece in ("T2", "Z9", ""):
        with pytest.raises(Refused, match="asked to be on no such piece now"):
            insist(yard, piece)


def test_a_check_given_up_over_refused_presses_says_what_they_read(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, "48.5", "48.4", "48.5")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    (check,) = yard.writer.query("SELECT * FROM checks WHERE check_id = 2")
    assert check["outcome"] == "undecided"
    assert check["message"].endswith(
        "by the person at the bench; 3 presses asked for on T1 read 48.4 to 48.5 GU, as another "
        "piece does, and nobody said whether shore was on T1: how it read then is not known"
    )


def test_a_check_given_up_over_refused_presses_alone_ends_the_pass(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert yard.desk.standings["shore"].passed is not None, "nothing was read"
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, "48.5")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert yard.desk.standings["shore"].passed is None


def test_a_press_that_was_misplaced_and_put_right_leaves_nothing_unexplained(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, "48.5", "93.2")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    (check,) = yard.writer.query("SELECT * FROM checks WHERE check_id = 2")
    assert "asked for on" not in check["message"]


def test_presses_that_go_with_those_that_counted_are_of_the_same_piece(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    # More than five limits above T2 counts for T1; a hair below that is the same piece still.
    press(yard, "58.7", "58.5")
    assert [row["piece"] for row in yard.readings()[-2:]] == ["T1", "T1"]


def test_a_press_on_the_next_piece_before_its_turn_is_refused_still(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, "93.2", "48.7")
    assert [row["role"] for row in yard.readings()[-2:]] == ["check", "loose"]


@pytest.mark.parametrize(
    ("text", "piece"),
    [("on T1", "T1"), ("On  T1 ", "T1"), ("on", ""), ("on ", ""), ("91.4", ""), ("one T1", "")],
)
def test_the_word_on_with_a_piece_is_the_typed_way_to_insist(text: str, piece: str) -> None:
    assert insisted(text) == piece


class Calls:
    """A client in the place of the daemon's; a piece that is not asked for is refused."""

    def __init__(self) -> None:
        self.made: list[tuple[str, str]] = []

    def call(self, name: str, **arguments: str) -> dict[str, object]:
        self.made.append((name, arguments.get("piece") or arguments["text"]))
        if arguments.get("piece") == "T9":
            raise Refused("shore is asked to be on no such piece now", reason="no such piece now")
        row = {"table": "notice", "kind": "typed once", "text": "", "instrument": "hand"}
        return {"rows": [row]}


def test_piped_entries_can_insist_and_a_wrong_piece_ends_nothing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    calls = Calls()
    code = typed_lines(calls, "shore", ["on T1\n", "91.4\n", "on T9\n", "91.4\n"])  # type: ignore[arg-type]
    assert code == NOT_DONE
    assert calls.made == [
        ("insist_piece", "T1"), ("type", "91.4"), ("insist_piece", "T9"), ("type", "91.4"),
    ]  # fmt: skip
    shown = capsys.readouterr()
    assert "shore is on T1, as you say: type it again, and it counts" in shown.out
    assert "no such piece now" in shown.err


def test_a_piped_entry_that_is_far_too_long_is_refused_as_one_and_the_rest_goes_on(
    capsys: pytest.CaptureFixture[str],
) -> None:
    calls = Calls()
    lines = ["91.4\n", "9" * 300 + "\n", " " * 300 + "91.5\n"]
    assert typed_lines(calls, "shore", lines) == NOT_DONE  # type: ignore[arg-type]
    assert calls.made == [("type", "91.4"), ("type", "91.5")]
    assert "300 characters" in capsys.readouterr().err
