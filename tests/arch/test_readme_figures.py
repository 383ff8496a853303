"""The README's table of figures: each row is one that its group of benchmarks measures."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.benchmarks.__main__ import PARTS
from tests.benchmarks.codecs import WIRES

README = Path(__file__).parents[2] / "README.md"
HEAD = "| figure | group | unit | Coatbench | baseline | ratio | goal | met |"


def _rows() -> list[tuple[str, str]]:
    """Figure and group of each row."""
    _, _, table = README.read_text(encoding="utf-8").partition(HEAD + "\n")
    rows = table.split("\n\n")[0].splitlines()[1:]
    return [(cells[1].strip(), cells[2].strip()) for cells in (row.split("|") for row in rows)]


def _measured(group: str) -> Iterator[str]:
    """The names of results in the module of a group, as patterns."""
    path = sys.modules[PARTS[group].__module__].__file__
    assert path is not None
    for node in ast.walk(ast.parse(Path(path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Result":
            name = node.args[0]
            parts = name.values if isinstance(name, ast.JoinedStr) else [name]
            yield "".join(
                re.escape(str(p.value)) if isinstance(p, ast.Constant) else ".*" for p in parts
            )


@pytest.mark.parametrize(("figure", "group"), _rows())
def test_a_row_of_figures_is_measured_by_its_group(figure: str, group: str) -> None:
    plain = figure.replace("`", "")
    assert any(re.fullmatch(name, plain) for name in _measured(group)), (figure, group)


def test_the_table_has_the_figures_of_nearly_every_group() -> None:
    # These two write stores of two million readings first and are measured at night.
    assert {group for _, group in _rows()} == PARTS.keys() - {"trials", "alltime"}


def test_the_table_has_every_driver_that_is_measured() -> None:
    rows = {figure for figure, group in _rows() if group == "codecs"}
    assert rows == {f"codec {wire.name}" for wire in WIRES}
