"""What is left to do after a run: the closing check, and places that a failed one opened again."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from acquire.cli.readings import unclosed_lines
from acquire.cli.run import finish_lines
from acquire.cli.status import status_lines
from acquire.errors import Refused
from acquire.live.verdict import verdict
from acquire.model import NoticeKind
from acquire.model.batch import CLOSED_BY_DAEMON
from acquire.settings import parse_plan
from acquire.store import StoreReader
from tests.yard import TRIAL, Yard

UNCLOSED = (
    "4 readings of gelcoat, bare have no closing check yet. Next: coatbench check shore, then "
    "coatbench report gelcoat"
)


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    plan = parse_plan(TRIAL, "plans/gelcoat.toml")
    yard.act(lambda at: yard.acts.runs.begin(plan, None, "bare", "shore", at, "plans/gelcoat.toml"))
    for value in ("80.1", "80.2", "80.3", "80.4"):
        yard.clock.advance(1)
        yard.press("shore", value)
    yield yard
    yard.close()


def finish(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.runs.finish("complete", at))


def stands(yard: Yard) -> dict[str, Any]:
    return yard.act(yard.acts.status)


def test_a_finished_run_without_a_closing_check_says_so_in_status_and_before_closing(
    yard: Yard,
) -> None:
    assert unclosed_lines(stands(yard)) == []
    finish(yard)
    assert status_lines(stands(yard))[-2:] == ["no run is open", UNCLOSED]
    assert unclosed_lines(stands(yard)) == [f"NOTE: {UNCLOSED}"]
    yard.check("shore")
    assert status_lines(stands(yard))[-1] == "no run is open"


def test_places_that_a_failed_closing_check_opened_are_told_with_the_command_of_the_trial(
    yard: Yard,
) -> None:
    finish(yard)
    yard.check("shore", tile="95.6")
    opened = "4 places are open again of gelcoat, bare"
    again = "coatbench run plans/gelcoat.toml bare --with shore"
    assert status_lines(stands(yard))[-1] == f"{opened}. Next: coatbench check shore, then {again}"
    yard.check("shore")
    assert status_lines(stands(yard))[-1] == f"{opened}. Next: {again}"
    with StoreReader(yard.bench.store) as store:
        found = stands(yard)["reopened"]
        _, lines = verdict(store, 3, yard.clock.now().utc_ns, reopened=found)
    assert lines[-2:] == [opened, f"next: {again}"]
    yard.begin()
    for value in ("80.1", "80.2", "80.3", "80.4"):
        yard.press("shore", value)
    finish(yard)
    assert stands(yard)["reopened"] == []


def test_after_a_restart_the_kept_plan_is_named_by_its_id(yard: Yard) -> None:
    finish(yard)
    yard.check("shore", tile="95.6")
    yard.restart()
    assert status_lines(stands(yard))[-1].endswith("coatbench run gelcoat bare --with shore")


def test_a_meter_whose_check_ended_before_a_restart_is_not_called_unchecked(yard: Yard) -> None:
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.restart()
    assert stands(yard)["instruments"][0]["check"]["message"] == (
        "shore was re-adjusted; what was checked before says nothing of it now"
    )


def test_a_check_that_failed_before_a_restart_is_still_the_reason(yard: Yard) -> None:
    yard.check("shore", tile="95.6")
    yard.restart()
    assert "the last check of shore failed" in stands(yard)["instruments"][0]["check"]["message"]


def test_a_daemon_that_ends_unplugs_nothing(yard: Yard) -> None:
    yard.unplug("shore", CLOSED_BY_DAEMON)
    told = stands(yard)["instruments"][0]["check"]
    assert told["reason"] == "not watched"
    assert told["message"] == "the daemon was stopped; nobody watched shore from then on"
    yard.restart()
    assert stands(yard)["instruments"][0]["check"]["message"] == told["message"]


def test_a_run_of_an_unchecked_trial_does_not_end_with_a_closing_check(yard: Yard) -> None:
    ended = stands(yard)["run"]
    reply = {"run_id": 1, "slots_left": 0}
    assert finish_lines(reply, ended) == [
        "run 1 is finished; every place is filled",
        "next: coatbench check shore (the closing check), then coatbench next",
    ]
    assert finish_lines(reply, {**ended, "unchecked": True})[-1] == (
        "next: coatbench report gelcoat; every page of it says UNCHECKED"
    )


def test_an_interrupted_run_is_gone_on_with_after_a_check_in_every_message(yard: Yard) -> None:
    yard.restart()
    after = "coatbench check shore, then coatbench run --resume"
    assert after in status_lines(stands(yard))[-1]
    yard.plug("shore")
    yard.check("shore")
    assert (
        status_lines(stands(yard))[-1] == "Next: coatbench run --resume; or coatbench run --finish"
    )
    with pytest.raises(Refused) as refused:
        yard.begin()
    assert refused.value.next_step.startswith(after)


def test_an_unplugged_meter_is_plugged_in_before_it_is_checked(yard: Yard) -> None:
    yard.unplug("shore")
    plug = "plug shore in and switch it on (it is found by itself), then coatbench check shore"
    assert stands(yard)["instruments"][0]["check"]["next_step"] == plug
    with pytest.raises(Refused) as refused:
        yard.act(lambda at: yard.acts.checks.begin("shore", at))
    assert refused.value.next_step == plug
    yard.plug("shore")
    yard.tell("shore", NoticeKind.IDENTITY, "SH-0999")
    assert stands(yard)["instruments"][0]["check"]["next_step"] == (
        "plug in SH-0417, or change the serial in bench.toml, then coatbench check shore"
    )


def test_nobody_is_sent_to_read_a_surface_that_is_gone(yard: Yard) -> None:
    finish(yard)
    plan = parse_plan(TRIAL, "plans/gelcoat.toml")
    treated = next(z.id for z in plan.zones if not plan.treatment_of(z.id).is_control)
    yard.act(
        lambda at: yard.acts.applications.apply("gelcoat", [treated], "", "", None, None, "", at)
    )
    yard.check("shore", tile="95.6")
    yard.check("shore")
    assert status_lines(stands(yard))[-1].startswith("2 places are open again of gelcoat, bare.")
