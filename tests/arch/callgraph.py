"""Which definitions of a package lead to which, read off its text: nothing is imported or run.

A node is ``module.name`` of a definition at the top of a module. An edge goes to whatever its body
names, through imports and names that a package hands on. A class stands for its methods, so more
is found to be led to than ever is; annotations lead nowhere, since they call nothing.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

CALLABLE: Final = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)


@dataclass(slots=True)
class Module:
    """Names at the top of one module: what defines them, or what an import binds them to."""

    bodies: dict[str, list[ast.AST]] = field(default_factory=dict)
    bound: dict[str, str] = field(default_factory=dict)
    callables: set[str] = field(default_factory=set)
    always: list[ast.AST] = field(default_factory=list)
    """What runs at import and defines no name."""


@dataclass(frozen=True, slots=True)
class Graph:
    """The modules of a package by name."""

    modules: Mapping[str, Module]
    _found: dict[str, set[str]] = field(default_factory=dict)

    def nodes(self, prefix: str) -> Iterator[str]:
        """Every definition of the modules whose names begin so."""
        for name, module in self.modules.items():
            if name == prefix or name.startswith(f"{prefix}."):
                yield from (f"{name}.{own}" for own in module.bodies)
                yield name

    def is_callable(self, node: str) -> bool:
        module, _, name = node.rpartition(".")
        return module in self.modules and name in self.modules[module].callables

    def named_by(self, node: str) -> set[str]:
        """The nodes that one definition names; of a module those of what its import runs."""
        if node not in self._found:
            if node in self.modules:
                self._found[node] = self._named(node, self.modules[node].always)
            else:
                module, _, name = node.rpartition(".")
                bodies = self.modules[module].bodies[name]
                self._found[node] = self._named(module, bodies) | {module}
        return self._found[node]

    def reached(self, roots: Iterable[str], within: str = "") -> set[str]:
        """All that is led to from the roots, they included; on through `within` alone."""
        found, waiting = set(), list(roots)
        while waiting:
            node = waiting.pop()
            if node not in found:
                found.add(node)
                if node.startswith(within):
                    waiting += self.named_by(node)
        return found

    def _named(self, module: str, bodies: Iterable[ast.AST]) -> set[str]:
        found: set[str] = set()
        for body in bodies:
            bound = {**self.modules[module].bound, **_bound(module, body)}
            for chain in _chains(body):
                head, *rest = chain
                if head in self.modules[module].bodies:
                    found.add(f"{module}.{head}")
                elif head in bound:
                    found |= self._resolved(bound[head], rest)
        return found

    def _resolved(self, target: str, rest: list[str]) -> set[str]:
        """The node of ``target.rest``, followed through modules and names handed on."""
        module, _, name = target.rpartition(".")
        # A package may hand on a function that is named like its own module.
        handed = self.modules[module].bound.get(name, target) if module in self.modules else target
        if handed == target and target in self.modules:
            return self._resolved(f"{target}.{rest[0]}", rest[1:]) if rest else {target}
        if module not in self.modules:
            return set()
        if name in self.modules[module].bodies:
            return {target}
        return self._resolved(handed, rest) if handed != target else set()


def graph_of(root: Path, package: str) -> Graph:
    """The graph of the package in the folder `root`."""
    modules = {}
    for path in sorted((root / package).rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        modules[name] = _module(name, ast.parse(path.read_text(encoding="utf-8")))
    return Graph(modules)


def _module(name: str, tree: ast.Module) -> Module:
    found = Module()
    for statement in tree.body:
        defined = list(_defined(statement))
        found.bound |= _bound(name, statement) if not defined else {}
        for own in defined:
            found.bodies.setdefault(own, []).append(statement)
            if isinstance(statement, CALLABLE):
                found.callables.add(own)
        if not defined:
            found.always.append(statement)
    return found


def _defined(statement: ast.stmt) -> Iterator[str]:
    match statement:
        case ast.FunctionDef() | ast.AsyncFunctionDef() | ast.ClassDef():
            yield statement.name
        case ast.Assign():
            for target in statement.targets:
                yield from (n.id for n in ast.walk(target) if isinstance(n, ast.Name))
        case ast.AnnAssign(target=ast.Name(id=own)):
            yield own


def _bound(module: str, body: ast.AST) -> dict[str, str]:
    """What imports in there bind; relative ones are not used in this house."""
    found: dict[str, str] = {}
    for node in ast.walk(body):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {a.asname or a.name: f"{node.module}.{a.name}" for a in node.names}
        elif isinstance(node, ast.Import):
            found |= {a.asname or a.name.split(".")[0]:
                      a.name if a.asname else a.name.split(".")[0] for a in node.names}  # fmt: skip
    return found


def _chains(node: ast.AST) -> Iterator[list[str]]:
    """Every dotted name that is used, as its parts; annotations are passed over."""
    chain: list[str] = []
    inner = node
    while isinstance(inner, ast.Attribute):
        chain.insert(0, inner.attr)
        inner = inner.value
    if isinstance(inner, ast.Name):
        yield [inner.id, *chain]
        return
    for name, value in ast.iter_fields(inner):
        if name not in ("annotation", "returns"):
            for one in value if isinstance(value, list) else [value]:
                if isinstance(one, ast.AST):
                    yield from _chains(one)
