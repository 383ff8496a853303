"""No module needs one that needs it, counted with what a function imports when it is called.

Two threads that begin such a circle at its two ends wait for one another, and Python gives one of
them up. What is imported for its types alone is never imported.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

from tests.arch.test_house import ROOT, SOURCES, text_of


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(path): path for path in SOURCES}


def for_types(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING")


def named_in(tree: ast.AST) -> Iterator[str]:
    """What is imported anywhere in it: the module, or of a package each module that is named."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if inner in MODULES else node.module
        elif for_types(node):
            assert isinstance(node, ast.If)
            yield from named_in(ast.Module(node.orelse, []))
        else:
            yield from named_in(node)


@cache
def needs() -> dict[str, set[str]]:
    return {
        name: {other for other in named_in(ast.parse(text_of(path))) if other in MODULES} - {name}
        for name, path in MODULES.items()
    }


def circles(graph: dict[str, set[str]]) -> list[list[str]]:
    """What is left when modules that need nothing, or that nothing needs, are taken out."""
    left = {name: set(others) for name, others in graph.items()}

    def take_out(names: Iterable[str]) -> bool:
        gone = set(names)
        for name in gone:
            del left[name]
        for others in left.values():
            others.difference_update(gone)
        return bool(gone)

    while take_out([name for name, others in left.items() if not others]) or take_out(
        left.keys() - set().union(*left.values())
    ):
        pass
    return [[name, *sorted(others)] for name, others in sorted(left.items())]


def test_no_modules_need_each_other() -> None:
    assert not circles(needs())


def test_a_circle_would_be_seen() -> None:
    graph = needs()
    assert "acquire.driverkit.whose" in graph["drivers.modbus.driver"]
    assert "acquire.link.usblink" in graph["acquire.link.choose"], "a function imports it"
    bent = graph | {"acquire.link.usblink": graph["acquire.link.usblink"] | {"acquire.link.choose"}}
    assert [name for name, *_ in circles(bent)] == ["acquire.link.choose", "acquire.link.usblink"]
