"""A trial as it is drawn: zones in their places, how far each has come, what is next."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rich.cells import cell_len

from acquire.cli.trial.drawing import Content, cut, drawn, marks, needs_marks
from acquire.cli.trial.showing import _next, _panels, _taken, trial_rows
from acquire.model import Plan, Zone
from acquire.settings import config_dir, load_plan, parse_plan
from acquire.store import StoreReader
from acquire.trial.dealing import Grid, Place, zone_name
from acquire.trial.places import OnPanel, Spot, on_panels
from acquire.trial.progress import Progress, progress_of
from tests.unit.reported import SMALL, small

BOATYARD = load_plan(config_dir() / "boatyard" / "trial.toml")
NOTHING = Progress((), {}, {"bare": 5}, {})


def panel(rows: int, columns: int) -> OnPanel:
    places = [Place("", r, c) for r in range(1, rows + 1) for c in range(1, columns + 1)]
    zones = tuple(Zone(zone_name(p), "x") for p in places)
    return OnPanel("", zones, {zone_name(p): Spot(p.row, p.column) for p in places}, False)


def content(of: OnPanel, name: str = "Grebe") -> dict[str, Content]:
    return {z.id: Content([z.id, name], f"{z.id} {name} .", "a.") for z in of.zones}


def draw(rows: int, columns: int, width: int = 80, *, whole: bool = False) -> list[str]:
    own = panel(rows, columns)
    return drawn(own, content(own), width, whole=whole)


def test_zones_stand_in_their_rows_and_columns() -> None:
    assert draw(2, 2) == [
        "+-----------+-----------+",
        "| A1        | A2        |",
        "| Grebe     | Grebe     |",
        "+-----------+-----------+",
        "| B1        | B2        |",
        "| Grebe     | Grebe     |",
        "+-----------+-----------+",
    ]


def test_a_drawing_keeps_to_its_width_whatever_the_panel() -> None:
    for rows, columns in ((1, 1), (3, 6), (2, 7), (40, 3), (9, 30), (2, 500)):
        for width in (40, 80, 200):
            lines = draw(rows, columns, width)
            assert max(map(cell_len, lines)) <= width, (rows, columns, width)


def test_a_panel_of_many_rows_has_a_line_a_zone_and_leaves_the_middle_out() -> None:
    lines = draw(90, 2)
    assert "| A1 Grebe .  | A2 Grebe .  |" in lines
    assert "  ... 66 rows not shown (--all)" in lines
    assert any("CL1" in line for line in lines)
    assert len(draw(90, 2, whole=True)) == 92


def test_a_panel_of_many_columns_has_two_signs_a_zone() -> None:
    assert draw(2, 7) == [
        "     1   2   3   4   5   6   7",
        "A1  a.  a.  a.  a.  a.  a.  a.",
        "B1  a.  a.  a.  a.  a.  a.  a.",
    ]
    assert draw(1, 50)[0] == "19 of 50 columns at a time"
    # Where letters do not suffice names are drawn, a few columns at a time.
    own = panel(1, 20)
    bare = {zone: c._replace(signs="") for zone, c in content(own).items()}
    assert needs_marks(own, 80)
    assert "6 of 20 columns at a time" in drawn(own, bare, 80, whole=False)
    assert marks([str(k) for k in range(60)], "0") == {}
    assert marks(["x", "none", "y"], "none") == {"none": "-", "x": "a", "y": "b"}


def test_wide_signs_and_long_names_stay_in_their_cells() -> None:
    assert cut("abc", 5) == "abc  "
    assert cut("a" * 30, 9) == "aaaaaaa.."
    assert cell_len(cut("\N{LOBSTER}" * 9, 10)) == 10


def test_places_go_by_the_plan_then_by_names_and_else_zones_are_listed() -> None:
    (written,) = on_panels(BOATYARD)
    assert (written.by_name, written.rows, written.columns) == (False, 2, 3)
    bare = tuple(replace(z, row=None, column=None) for z in BOATYARD.zones)
    (named,) = on_panels(replace(BOATYARD, zones=bare))
    assert (named.by_name, named.spots) == (True, written.spots)
    odd = tuple(replace(z, id=f"spot {k}") for k, z in enumerate(bare))
    plan = replace(BOATYARD, zones=odd)
    (listed,) = on_panels(plan)
    assert listed.spots == {}
    lines = list(_panels(plan, NOTHING, 80, whole=False))
    assert "spot 0 Plover sealant #" in "\n".join(lines)


def test_each_of_several_panels_is_drawn() -> None:
    plan = two_panels()
    assert [(p.panel, p.rows, p.columns) for p in on_panels(plan)] == [("P1", 1, 2), ("P2", 1, 2)]
    lines = list(_panels(plan, NOTHING, 80, whole=False))
    assert "P2: Lid" in lines


def two_panels() -> Plan:
    text = SMALL.replace('[panel]\nname = "Panel 1"\nmaterial = "dark gelcoat"', "\n".join(
        f'[[panel]]\nid = "P{k}"\nname = "{name}"' for k, name in ((1, "Door"), (2, "Lid"))
    ))  # fmt: skip
    zones = "\n".join(
        f'[[zone]]\nid = "P{k}-A{c}"\npanel = "P{k}"\nrow = 1\ncolumn = {c}\n'
        f'treatment = "{"none" if (k + c) % 2 else "brine"}"'
        for k in (1, 2)
        for c in (1, 2)
    )
    head, _, rest = text.partition("[[zone]]")
    return parse_plan(f"{head}{zones}\n[[measure]]{rest.partition('[[measure]]')[2]}", "trial.toml")


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store of a trial of two zones that was read in full, one reading voided."""
    yard = small(tmp_path_factory.mktemp("shown"))
    number = yard.readings("trial = 'small' AND stage = 'cured' AND zone = 'A2'")[-1]["reading_id"]
    assert isinstance(number, int)
    yard.act(lambda at: yard.acts.readings.void(number, "slipped", at))
    yard.close()
    return yard.bench.store


def test_progress_counts_what_counts_and_names_the_next_stage(read: Path) -> None:
    plan = parse_plan(SMALL, "trial.toml")
    with StoreReader(read) as store:
        progress = progress_of(store.rows, plan)
        assert [(t.stage, t.done, t.wanted) for t in progress.taken] == [
            ("bare", 6, 6),
            ("cured", 5, 6),
        ]
        assert (progress.next_stage, progress.by_zone["A2", "cured"]) == ("cured", 2)
        assert progress.has_begun
        lines = [*_panels(plan, progress, 80, whole=False), *_taken(plan, progress, 80)]
        lines += _next(store, plan, None)
    text = "\n".join(lines)
    assert "| cured done   | cured 2/3    |" in text
    assert "-> cured     gloss20 5 of 6" in text
    # What is next is what coatbench next says.
    assert "due: measure cured, gloss20: 1 reading to take. Next: coatbench run small cured" in text


def test_the_list_of_trials_says_how_each_stands(read: Path) -> None:
    with StoreReader(read) as store:
        head, row = trial_rows(store)
    assert head == ("trial", "zones", "state", "last", "title")
    assert (row[0], row[1], row[2], row[4]) == ("small", "2", "at cured", "Two zones of gelcoat")


def test_a_grid_counts_the_zones_of_all_its_panels() -> None:
    assert Grid(("P1", "P2"), 3, 4).zones == 24
