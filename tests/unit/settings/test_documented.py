"""Every key of every file that a person writes stands in the file that explains it."""

from __future__ import annotations

import re
import typing
from collections.abc import Iterator
from importlib import import_module
from pkgutil import iter_modules

import pytest

from acquire.schema import Schema
from acquire.settings import config_dir
from acquire.settings.bench import BenchFile
from acquire.settings.mapping import MappingFile
from acquire.settings.policy import PolicyFile
from acquire.settings.scales import ScaleTable
from acquire.settings.scorecard import ScorecardFile
from acquire.settings.trial import TrialFile

FILES: dict[type[Schema], str] = {
    BenchFile: "boatyard/bench.toml",
    TrialFile: "boatyard/trial.toml",
    PolicyFile: "policies/gloss-20.toml",
    ScorecardFile: "scorecards/yard.toml",
    MappingFile: "scorecards/past-results.toml",
    ScaleTable: "scales/*.toml",
}
FAMILIES = ("line", "frame", "modbus", "usbtmc", "hid", "keyed")
_FEWEST = 8
"""So few keys has no file: fewer mean that the schema is not walked through."""


def schemas(annotation: object) -> Iterator[type[Schema]]:
    if isinstance(annotation, type) and issubclass(annotation, Schema):
        yield annotation
    for part in typing.get_args(annotation):
        yield from schemas(part)


def keys(schema: type[Schema], above: tuple[type[Schema], ...] = ()) -> Iterator[str]:
    """All keys of a schema and of the tables in it."""
    for name, field in schema.model_fields.items():
        yield field.alias or name
        for inner in schemas(field.annotation):
            if inner not in above:
                yield from keys(inner, (*above, schema))


def text_of(pattern: str) -> str:
    files = sorted(config_dir().glob(pattern))
    assert files, pattern
    return "\n".join(file.read_text("utf-8") for file in files)


def undocumented(schema: type[Schema], text: str) -> set[str]:
    found = set(keys(schema))
    assert len(found) >= (1 if schema is ScaleTable else _FEWEST)
    return {key for key in found if not re.search(rf"(?<![\w-]){re.escape(key)}(?![\w-])", text)}


@pytest.mark.parametrize("schema", FILES, ids=lambda schema: schema.__name__)
def test_every_key_is_explained_in_the_shipped_file(schema: type[Schema]) -> None:
    assert undocumented(schema, text_of(FILES[schema])) == set()


@pytest.mark.parametrize("family", FAMILIES)
def test_every_key_of_a_profile_is_explained_in_some_shipped_profile(family: str) -> None:
    # The table of the whole file is the one that no other table of the family is made of.
    package = import_module(f"drivers.{family}")
    found = {
        one
        for module in iter_modules(package.__path__)
        for one in vars(import_module(f"drivers.{family}.{module.name}")).values()
        if isinstance(one, type) and issubclass(one, Schema) and one is not Schema
        if one.__module__.startswith(f"drivers.{family}.")
    }
    inner = {i for one in found for f in one.model_fields.values() for i in schemas(f.annotation)}
    bases = {base for one in found for base in one.__mro__[1:]}
    (schema,) = found - inner - bases
    assert undocumented(schema, text_of("profiles/*.toml")) == set()


def test_a_key_that_is_not_explained_is_found() -> None:
    text = text_of("boatyard/trial.toml").replace("cure_hours", "cure")
    assert undocumented(TrialFile, text) == {"cure_hours"}
