"""What `coatbench verify` says results use is what the source says they call."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.verify.calcs import CALCS
from acquire.verify.use import NOT_WHOLLY, Use, use_of
from tests.arch.callgraph import Graph, graph_of

ROOT = Path(__file__).parents[2]
VERIFYING = ("acquire.verify", "acquire.cli.verify")


@pytest.fixture(scope="module")
def graph() -> Graph:
    return graph_of(ROOT, "acquire")


def is_verifying(node: str) -> bool:
    return node.startswith(VERIFYING)


@pytest.fixture(scope="module")
def used(graph: Graph) -> set[str]:
    """All that commands and the daemon lead to, but for the command that verifies."""
    roots = {*graph.nodes("acquire.cli"), *graph.nodes("acquire.daemon")}
    return graph.reached(node for node in roots if not is_verifying(node))


def found_use(calc: str, graph: Graph, used: set[str]) -> Use:
    """By the source: what the calculation itself names outside its own room."""
    function = CALCS[calc]
    led_to = graph.reached([f"{function.__module__}.{function.__name__}"], within=VERIFYING[0])
    named = {n for n in led_to if not is_verifying(n) and n not in graph.modules}
    only_here = tuple(sorted(n.removeprefix("acquire.") for n in named - used))
    return Use(only_here, is_in_part=bool(named & used) or not only_here)


@pytest.mark.parametrize("calc", sorted(CALCS))
def test_a_calculation_is_used_as_the_table_says(calc: str, graph: Graph, used: set[str]) -> None:
    found = found_use(calc, graph, used)
    assert use_of(calc) == found, f"in acquire/verify/use.py {calc} has to be {found}"
    # Whoever reads the record is told why results have no use for it.
    assert bool(use_of(calc).because) is not found.is_whole


def test_the_table_names_no_calculation_that_is_not_there() -> None:
    assert set(NOT_WHOLLY) <= set(CALCS)


def test_the_graph_finds_its_way_to_the_gate_and_to_results(graph: Graph, used: set[str]) -> None:
    assert not any(is_verifying(node) for node in used)
    assert {"acquire.calibration.judge.judge", "acquire.analysis.results.measure_results"} <= used
    # Handed on by a package, named after an import inside a function, and reached by a method.
    assert {"acquire.analysis.budget.reach.reach_of", "acquire.units.normalise"} <= used


def test_the_graph_follows_names_that_are_handed_on_and_no_annotation(tmp_path: Path) -> None:
    house = tmp_path / "house"
    house.mkdir()
    (house / "__init__.py").write_text("from house.saw import saw\n")
    (house / "saw.py").write_text("def saw(): ...\ndef plane(): ...\nclass Vice: ...\n")
    (house / "shop.py").write_text(
        "import house\nfrom house import saw as cut\n"
        "def build(of: Vice):\n    from house.saw import plane\n    return cut(plane)\n"
        "class Bench:\n    def work(self):\n        return house.saw()\n"
    )
    graph = graph_of(tmp_path, "house")
    assert graph.named_by("house.shop.build") == {
        "house.saw.saw", "house.saw.plane", "house.shop",
    }  # fmt: skip
    assert graph.reached(["house.shop.Bench"]) >= {"house.shop.Bench", "house.saw.saw"}
    assert "house.saw.Vice" not in graph.reached(["house.shop.build"])
