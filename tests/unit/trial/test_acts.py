"""Trials beside their runs: a plan kept, a key sealed, shown and unsealed, a trial closed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.errors import NotFound, Refused
from acquire.model import Plan
from acquire.pipeline.trial_acts import SHOWN
from acquire.settings import parse_plan
from acquire.store.worked import UNSEALED
from acquire.trial.key import digest_of, key_text
from tests.unit.settings.test_trial import SOUND
from tests.yard import Yard

KEY = key_text("quay-1", {"tern": "Grebe wax"}, bytes(16))
OTHER = key_text("quay-1", {"tern": "Plover sealant"}, bytes(16))


def blind(key: str = KEY) -> Plan:
    table = f'[trial.blind]\nkey = "{digest_of(key)}"\n\n[panel]'
    return parse_plan(SOUND.replace("[panel]", table), "trial.toml")


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    found = Yard(tmp_path)
    yield found
    found.close()


def keep(yard: Yard, plan: Plan, key: str = "") -> dict[str, object]:
    reply, rows = yard.acts.trials.keep(plan, key, yard.clock.now())
    yard.store(rows)
    return reply


def opened(yard: Yard, how: str, who: str = "Ada") -> dict[str, object]:
    reply, rows = yard.acts.trials.open_key("quay-1", how, who, "", yard.clock.now())
    yard.store(rows)
    return reply


def test_a_plan_is_kept_before_its_first_run(yard: Yard) -> None:
    plan = parse_plan(SOUND, "trial.toml")
    assert keep(yard, plan) == {"trial": "quay-1", "is_new": True}
    assert keep(yard, plan) == {"trial": "quay-1", "is_new": False}
    stored = yard.shelf.trial("quay-1")
    assert stored is not None
    assert stored.text == SOUND


def test_a_blind_plan_is_kept_with_its_key_alone(yard: Yard) -> None:
    for key, got in (("", "no key"), (OTHER, "a key with another digest")):
        with pytest.raises(Refused, match="is not kept") as caught:
            keep(yard, blind(), key)
        assert caught.value.got == got
    keep(yard, blind(), KEY)
    # Later versions of the plan need not bring it again.
    keep(yard, blind())


def test_a_key_for_other_codes_seals_no_plan(yard: Yard) -> None:
    other = key_text("quay-1", {"tern": "Grebe wax", "gull": "Gull oil"}, bytes(16))
    with pytest.raises(Refused, match="is not kept"):
        keep(yard, blind(other), other)


def test_the_key_is_shown_to_who_is_named_and_unsealed_for_all(yard: Yard) -> None:
    keep(yard, blind(), KEY)
    assert opened(yard, SHOWN) == {"products": {"tern": "Grebe wax"}, "was_unsealed": False}
    worked = yard.shelf.worked
    assert not worked.is_unsealed(digest_of(KEY))
    assert opened(yard, UNSEALED, "Bea")["was_unsealed"] is False
    assert opened(yard, UNSEALED, "Bea")["was_unsealed"] is True
    assert [(o.how, o.who) for o in worked.key_openings(digest_of(KEY))] == [
        ("shown", "Ada"),
        ("unsealed", "Bea"),
        ("unsealed", "Bea"),
    ]


def test_a_key_is_opened_to_nobody_who_has_no_name(yard: Yard) -> None:
    keep(yard, blind(), KEY)
    with pytest.raises(Refused, match="stays sealed"):
        opened(yard, SHOWN, " \u200b")


def test_a_trial_without_key_has_none_to_open(yard: Yard) -> None:
    keep(yard, parse_plan(SOUND, "trial.toml"))
    with pytest.raises(NotFound, match="has no key"):
        opened(yard, SHOWN)


def test_a_trial_is_closed_and_opened_again(yard: Yard) -> None:
    keep(yard, parse_plan(SOUND, "trial.toml"))
    close = yard.acts.trials.close
    yard.store(close("quay-1", True, "it outlasted us", yard.clock.now()).rows)
    assert yard.shelf.worked.is_closed("quay-1")
    with pytest.raises(Refused, match="is closed already"):
        close("quay-1", True, "", yard.clock.now())
    yard.store(close("quay-1", False, "", yard.clock.now()).rows)
    assert not yard.shelf.worked.is_closed("quay-1")
    with pytest.raises(NotFound):
        close("quay-2", True, "", yard.clock.now())
