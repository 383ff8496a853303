"""The instrument of a run that nobody named."""

from __future__ import annotations

from dataclasses import replace

import click
import pytest

from acquire.cli.meters import chosen_meter
from acquire.settings import config_dir, load_bench, parse_plan
from tests.unit.worked_yard import PLAN

BENCH = load_bench(config_dir() / "boatyard" / "bench.toml")
TRIAL = parse_plan(PLAN, "t")


def test_where_only_one_instrument_fits_it_is_taken_and_named() -> None:
    meter, said = chosen_meter(BENCH, TRIAL, "bare", None)
    assert meter == "shore"
    assert said == ["with shore, the one instrument here that measures gloss20"]


def test_where_several_may_be_meant_it_is_asked_which() -> None:
    (shore, deck) = BENCH.instruments[:2]
    twins = replace(BENCH, instruments=(shore, replace(shore, id="second"), deck))
    with pytest.raises(click.UsageError, match=r"with --with: shore, second$"):
        chosen_meter(twins, TRIAL, "bare", None)
    (gloss,) = TRIAL.measures
    two = replace(TRIAL, measures=(gloss, replace(gloss, id="again")))
    with pytest.raises(click.UsageError, match=r"with --measure: gloss20, again$"):
        chosen_meter(BENCH, two, "bare", None)
    assert chosen_meter(BENCH, two, "bare", "again")[0] == "shore"
