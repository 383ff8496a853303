"""A trial that measures gloss, force and transmittance: each reads as what it is."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.model import Quantity, Reading
from acquire.report import summary_lines
from acquire.settings import parse_plan
from tests.unit.reported import Page, page
from tests.yard import Yard, bench

THREE = """
[trial]
id = "three"
title = "Three quantities"
stages = ["bare", "cured"]
unchecked = true

[panel]
name = "Panel 1"
material = "clear sheet"

[[treatment]]
id = "none"
name = "Untreated"
control = true

[[treatment]]
id = "wax"
name = "Slipway wax"

[[treatment]]
id = "oil"
name = "Jetty oil"

[[zone]]
id = "A1"
treatment = "none"

[[zone]]
id = "A2"
treatment = "wax"

[[zone]]
id = "A3"
treatment = "oil"

[[measure]]
id = "gloss"
quantity = "gloss"
geometry = 20
replicates = 3
order = "by-zone"

[[measure]]
id = "pull"
quantity = "force"
replicates = 3
order = "by-zone"
higher_is_better = false

[[measure]]
id = "light"
quantity = "transmittance"
band = "315-400"
replicates = 3
order = "by-zone"
"""

_KINDS = {
    "shore": (Quantity.GLOSS, "20", "gloss_unit", "gloss", 80.0),
    "puller": (Quantity.FORCE, "", "newton", "pull", 12.0),
    "head": (Quantity.TRANSMITTANCE, "315-400", "percent", "light", 60.0),
}


class ThreeMeters(Yard):
    """A yard with a gloss meter, a force gauge and a transmission head."""

    def open(self) -> None:
        plain = bench(self.bench.store)
        first = plain.instruments[0]
        self.bench = replace(
            plain,
            instruments=tuple(
                replace(first, id=name, kind=kind, serial=f"{name}-1",
                        policy=replace(first.policy, quantity=kind, channels=(channel,)))
                for name, (kind, channel, *_) in _KINDS.items()
            ),
        )  # fmt: skip
        super().open()

    def fill(self, name: str, stage: str, step: float) -> None:
        kind, channel, unit, measure, base = _KINDS[name]
        plan = parse_plan(THREE, "trial.toml")
        self.act(lambda at: self.acts.runs.begin(plan, measure, stage, name, at))
        for zone in range(3):
            for off in (-0.1, 0.0, 0.1):
                self.clock.advance(2)
                value = f"{base + zone * step + off:.1f}"
                raw = f"{value}\r\n".encode()
                at = self._offsets.get(name, 0)
                self.take_in(
                    name,
                    Reading(kind, channel, Decimal(value), unit, value, self.clock.now(), raw, at,
                            at + len(raw)),
                )  # fmt: skip
        self.act(lambda at: self.acts.runs.finish("", at))


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[Page, list[str]]:
    folder = tmp_path_factory.mktemp("three")
    yard = ThreeMeters(folder)
    for name in _KINDS:
        yard.plug(name)
        for stage, step in (("bare", 0.0), ("cured", -2.0)):
            yard.fill(name, stage, step)
    found = page(yard, "three", folder)
    lines = summary_lines(yard.bench.store, "three")
    yard.close()
    return found, lines


def test_a_film_is_judged_by_its_ratio_to_its_blank(told: tuple[Page, list[str]]) -> None:
    """Every slide reads 60.0 bare; cured they read 60.0, 58.0 and 56.0: films of 58/60, 56/60."""
    found, lines = told
    name = "UVA 315-400 nm, as the meter weights it"
    (said,) = [line for line in lines if "Jetty oil, cured" in line and name in line]
    assert "worse than the control. In UVA 315-400 nm" in said
    assert "the film lets 93.33 % of the light through that its blank lets through" in said
    assert "it blocks 6.67 % (absorbance 0.0300)" in said
    rows = [row for row in found.rows if row[:1] == ["Jetty oil"] and "93.33" in row]
    # Its bare readings came after other measures were read cured, and each figure says so.
    assert rows[0][1:3] == ["▼ worse", "93.33 TOO LATE"]
    assert rows[0][5:7] == ["6.67", "0.0300"]
    assert rows[0][9:11] == ["93.33", "100.00"]


def test_the_budget_of_a_film_says_that_it_is_relative(told: tuple[Page, list[str]]) -> None:
    found, _ = told
    assert "relative (GUM 5.1.6): ln(film) = mean of ln(T at cured" in found.text
    assert "|c| u, relative" in found.text


def test_every_quantity_has_its_own_best_and_its_own_unit(told: tuple[Page, list[str]]) -> None:
    _, lines = told
    best = [line for line in lines if " most against the control" in line or "nearest to" in line]
    assert len(best) == 2
    assert best[0].startswith("  At cured Slipway wax has the net change that is nearest to")
    assert best[1].startswith("  At cured Jetty oil fell most against the control")
    assert " GU (" in best[0]
    assert " N (" in best[1]
    assert "Transmittance, UVA 315-400 nm, as the meter weights it (measure light)" in lines


def test_columns_of_channels_are_named_for_what_was_measured(
    told: tuple[Page, list[str]],
) -> None:
    found, _ = told
    assert "No check was made." in found.text
    assert "at 315-400 nm" in found.text
