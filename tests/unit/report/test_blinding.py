"""Page, results and export know codes alone until the key is unsealed, and say who was told."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from acquire.errors import Refused, StoreError
from acquire.pipeline.trial_acts import SHOWN
from acquire.report.answers.blindness import layout_sentence
from acquire.report.page import render
from acquire.report.record.loading import load_trial
from acquire.report.rows.export import Scope, write_export
from acquire.report.rows.resultrows import result_records
from acquire.report.sections.panel import panel_maps
from acquire.report.terminal.resultlines import told
from acquire.settings import parse_plan
from acquire.store import StoreReader
from acquire.store.rows import Row
from acquire.store.work_rows import TrialKeyRow
from acquire.store.worked import UNSEALED
from acquire.trial.blinding import blinding_of
from acquire.trial.key import digest_of, key_text, packed
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage
from tests.yard import Yard

PRODUCT = "Grebe wax"
KEY = key_text("small", {"483": PRODUCT}, bytes(16))
BLIND = (
    SMALL.replace('"brine"', '"483"')
    .replace("Brine Shield", "Code 483")
    .replace("[panel]", f'[trial.blind]\nkey = "{digest_of(KEY)}"\n\n[layout]\n'
             'design = "random"\nseed = 2\n\n[panel]')
    .replace('id = "A1"', 'id = "A1"\nrow = 1\ncolumn = 2')
    .replace('id = "A2"', 'id = "A2"\nrow = 1\ncolumn = 1')
)  # fmt: skip


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """A blind trial with its bare stage read."""
    found = Yard(tmp_path)
    keep(found)
    found.plug("shore")
    found.check("shore")
    read(found, "bare")
    yield found
    found.close()


def keep(yard: Yard, key: str = KEY) -> None:
    plan = parse_plan(BLIND, "trial.toml")
    yard.act(lambda at: yard.acts.trials.keep(plan, key, at))


def read(yard: Yard, stage: str) -> None:
    read_stage(yard, stage, BLIND, [SMALL_VALUES[z, stage] for z in ("A1", "A2")])


def tell(yard: Yard, how: str, who: str, why: str = "") -> None:
    yard.clock.advance(60)
    yard.act(lambda at: yard.acts.trials.open_key("small", how, who, why, at))
    yard.clock.advance(60)


def everything(yard: Yard) -> str:
    """All that is written of a trial: page, lines, tables, rows, export."""
    record = load_trial(yard.bench.store, "small")
    found = told(yard.bench.store, "small")
    exported = io.StringIO()
    with StoreReader(yard.bench.store) as store:
        write_export(store, Scope("small"), "csv", exported)
    rows = list(result_records(record))
    return "\n".join(
        [render(record), *found.lines, *map(str, found.tables), str(rows), exported.getvalue()]
    )


def test_nothing_names_a_product_before_and_all_do_after_the_unsealing(yard: Yard) -> None:
    tell(yard, SHOWN, "Jonas", "puts them on")
    read(yard, "cured")
    before = everything(yard)
    assert PRODUCT not in before
    assert "Code 483" in before
    assert "products are hidden behind codes; which is which says the key with SHA-256" in before
    assert "The key was shown to Jonas on" in before
    assert "(puts them on). 6 readings were taken after that." in before

    tell(yard, UNSEALED, "Ines", "done")
    record = load_trial(yard.bench.store, "small")
    after = everything(yard)
    assert "Grebe wax (483)" in after
    assert "Code 483</" not in render(record)
    words = "\n".join(told(yard.bench.store, "small").lines)
    assert "unsealed on" in words
    assert "by Ines (done). Nothing was read or rated after that." in words
    assert "Before that the key was shown to Jonas on" in words
    assert {r["treatment_name"] for r in result_records(record)} >= {"Grebe wax (483)"}


def test_what_was_read_after_the_unsealing_is_said(yard: Yard) -> None:
    tell(yard, UNSEALED, "Ines")
    read(yard, "cured")
    words = "\n".join(told(yard.bench.store, "small").lines)
    assert "by Ines. 6 readings were taken after that." in words
    assert "Before that the key was shown to nobody, as far as is recorded." in words


def test_a_blind_trial_is_read_only_where_its_key_is(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    try:
        yard.plug("shore")
        yard.check("shore")
        with pytest.raises(Refused, match="cannot be read here") as caught:
            yard.begin("bare", text=BLIND)
        assert caught.value.reason == "no key"
    finally:
        yard.close()


def test_a_key_that_is_not_the_plans_names_no_product(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    try:
        other = key_text("small", {"483": "Gull oil"}, bytes(16))
        plan = parse_plan(BLIND, "trial.toml")
        rows: list[Row] = [
            TrialKeyRow(yard.desk.ids.take(TrialKeyRow), 1, "small", plan.key_digest, packed(other))
        ]
        yard.store(rows)
        with (
            StoreReader(yard.bench.store) as store,
            pytest.raises(StoreError, match="cannot be opened"),
        ):
            blinding_of(store.rows, plan)
    finally:
        yard.close()


def test_the_map_goes_by_rows_and_columns_and_the_draw_is_dealt_again(yard: Yard) -> None:
    record = load_trial(yard.bench.store, "small")
    (panel,) = panel_maps(record)
    assert [(c.zone, c.row, c.column) for c in panel.cells] == [("A1", 1, 2), ("A2", 1, 1)]
    assert panel.legend == "Rows and columns as the plan has them; not to scale."
    # Seed 2 deals the control to column 2; the other way round is another draw.
    (said,) = layout_sentence(record)
    assert "dealt again for this page, the zones came out as they are" in said
    assert record.plan.layout is not None
    a, b = record.plan.zones
    swapped = replace(a, column=1), replace(b, column=2)
    (said,) = layout_sentence(replace(record, plan=replace(record.plan, zones=swapped)))
    assert "NOT those of this draw" in said
