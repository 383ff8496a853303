"""What the packages say of themselves is all there is."""

from __future__ import annotations

import argparse

import pytest

import simulators
from simulators import faults, gloss
from simulators.gloss.__main__ import parser
from simulators.gloss.acts import GlossBench
from simulators.stand import COMMON_ACTS

BENCH = GlossBench(lambda name: gloss.gloss_device("press", serial=name, seed=1), "SH-0417")


def words(text: str | None) -> str:
    assert text
    return text


@pytest.mark.parametrize("act", BENCH.acts)
def test_every_act_of_a_gloss_meter_is_described(act: str) -> None:
    assert f"\n`{act}`" in words(gloss.__doc__)


@pytest.mark.parametrize("act", COMMON_ACTS)
def test_every_act_of_every_device_is_described(act: str) -> None:
    assert f"\n`{act}`" in words(simulators.__doc__)


@pytest.mark.parametrize("kind", faults.KINDS)
def test_every_fault_is_described_with_what_it_takes(kind: str) -> None:
    assert f"\n`{kind}`" in words(faults.__doc__)
    assert f"`{kind}`" in words(simulators.__doc__)


@pytest.mark.parametrize(
    "option",
    [
        action.option_strings[0]
        for action in parser()._actions
        if not isinstance(action, argparse._HelpAction)
    ],
)
def test_every_option_of_a_gloss_meter_is_described(option: str) -> None:
    assert option in words(gloss.__doc__)
