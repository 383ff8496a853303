"""How a hand moves among the places of a run is kept: a restart goes on where it stood."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import pytest

from tests.yard import Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yield yard
    yard.close()


def go_on(yard: Yard) -> None:
    """The daemon ends as it stands, and starts; the run goes on under a fresh check."""
    yard.restart()
    yard.plug("shore")
    yard.check("shore")
    yard.act(yard.acts.runs.resume)


def places(yard: Yard) -> dict[str, str]:
    reply = yard.act(lambda _: yard.acts.runs.targets(None, None, None))
    told = cast(list[dict[str, object]], reply["targets"])
    return {f"{place['zone']} {place['replicate']}": str(place["state"]) for place in told}


def test_a_place_that_was_skipped_is_still_skipped_after_a_restart(yard: Yard) -> None:
    yard.act(yard.acts.runs.skip)
    yard.press("shore", "81.2")
    before = places(yard)
    assert before == {"A1 1": "skipped", "A2 1": "filled", "A1 2": "next", "A2 2": "open"}
    yard.restart()
    yard.plug("shore")
    assert places(yard) == before | {"A1 2": "open"}
    yard.check("shore")
    yard.act(yard.acts.runs.resume)
    assert places(yard) == before
    yard.press("shore", "80.3")
    assert (yard.readings()[-1]["zone"], yard.readings()[-1]["replicate"]) == ("A1", 2)


def test_a_place_that_was_gone_to_is_the_next_after_a_restart(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.runs.go_to("A2", 2, at))
    go_on(yard)
    assert places(yard)["A2 2"] == "next"


def test_a_voided_place_comes_before_the_others_after_a_restart_as_it_did_before(
    yard: Yard,
) -> None:
    yard.press("shore", "80.1")
    yard.press("shore", "81.2")
    first = cast(int, yard.readings("role = 'run'")[0]["reading_id"])
    yard.act(lambda at: yard.acts.readings.void(first, "slipped", at))
    before = places(yard)
    assert before["A1 1"] == "next"
    go_on(yard)
    assert places(yard) == before
    yard.press("shore", "80.1")
    assert places(yard)["A1 2"] == "next"


def test_a_failed_check_opens_its_suspects_and_leaves_skipped_what_was_skipped(yard: Yard) -> None:
    yard.act(yard.acts.runs.skip)
    yard.press("shore", "81.2")
    yard.check("shore", tile="99.0")
    assert places(yard) == {"A1 1": "skipped", "A2 1": "next", "A1 2": "open", "A2 2": "open"}


def test_a_move_that_leads_nowhere_is_no_move(yard: Yard) -> None:
    yard.act(yard.acts.runs.back)
    yard.act(lambda at: yard.acts.runs.go_to("A1", 1, at))
    assert yard.writer.query("SELECT * FROM move") == []
    yard.act(yard.acts.runs.skip)
    (row,) = yard.writer.query("SELECT * FROM move")
    assert tuple(row)[3:] == ("skip", "A1", 1, "A2", 1, 4)


@pytest.mark.parametrize("seed", range(12))
def test_wherever_the_hand_went_a_restart_stands_there(yard: Yard, seed: int) -> None:
    draw = random.Random(seed)
    for _ in range(draw.randrange(1, 9)):
        act = draw.choice(["press", "press", "skip", "back", "go to"])
        if "next" not in places(yard).values():
            break
        if act == "press":
            yard.press("shore", "80.5")
        elif act == "skip":
            yard.act(yard.acts.runs.skip)
        elif act == "back":
            yard.act(yard.acts.runs.back)
        else:
            open_now = [name for name, state in places(yard).items() if state != "filled"]
            zone, replicate = draw.choice(open_now).split()
            yard.act(lambda at, z=zone, n=int(replicate): yard.acts.runs.go_to(z, n, at))
    before = places(yard)
    go_on(yard)
    assert places(yard) == before
