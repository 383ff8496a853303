"""The descriptor of a package, `datapackage.json` (Data Package 2.0, datapackage.org). Pure.

A resource of a table names type, path, format, encoding, size and SHA-256, and its schema. What is
our own stands under ``coatbench``: the standard lets a descriptor have properties of its own.
"""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from acquire import __version__
from acquire.model import iso_utc
from acquire.report.package.shape import TableShape
from acquire.report.package.tabular import Json, resource_name
from acquire.report.record.record import TrialRecord
from acquire.store.schema import MIGRATIONS

FORMAT = 1
"""Of our own part: a package of a later one is not read."""
STANDARD = "https://datapackage.org/profiles/2.0/datapackage.json"
RESOURCE = "https://datapackage.org/profiles/2.0/dataresource.json"
SCHEMA = "https://datapackage.org/profiles/2.0/tableschema.json"


class Written(NamedTuple):
    """A file of a package as it was written."""

    path: str
    size_bytes: int
    sha256: str


def table_resource(
    name: str, title: str, description: str, schema: Json, file: Written, rows: int
) -> Json:
    """The resource of a table."""
    return {
        "$schema": RESOURCE,
        "name": name,
        "type": "table",
        "title": title,
        "description": description,
        "path": file.path,
        "scheme": "file",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": file.size_bytes,
        "hash": f"sha256:{file.sha256}",
        "dialect": {"delimiter": ",", "lineTerminator": "\n", "quoteChar": '"'},
        "schema": {"$schema": SCHEMA, **schema},
        "rows": rows,
    }


def store_resource(shape: TableShape, schema: Json, file: Written, rows: int) -> Json:
    """The resource of a table of the store; what it holds is said where its row is defined."""
    said = inspect.cleandoc(shape.kind.__doc__ or "").split("\n\n")[0].replace("\n", " ")
    name = resource_name(shape.name)
    title = f"Store: {shape.name.replace('_', ' ')}"
    return table_resource(name, title, said, schema, file, rows) | {"table": shape.name}


def file_resource(name: str, title: str, mediatype: str, file: Written) -> Json:
    """The resource of any other file."""
    return {
        "$schema": RESOURCE,
        "name": name,
        "title": title,
        "path": file.path,
        "mediatype": mediatype,
        "bytes": file.size_bytes,
        "hash": f"sha256:{file.sha256}",
    }


def descriptor(record: TrialRecord, resources: Sequence[Json], last_utc_ns: int) -> Json:
    """The whole of it. Says nothing of the moment it was written, so it is the same each time."""
    plan = record.plan
    return {
        "$schema": STANDARD,
        "name": package_name(plan.id),
        "title": plan.title,
        "description": (
            f"All that the results of the trial {plan.id} rest on: readings with the bytes they "
            "were made of, checks, certificates, plan, and the results. README.md says how to "
            "read it."
        ),
        "created": iso_utc(last_utc_ns)[:19] + "Z",
        "keywords": sorted({m.quantity.value for m in plan.measures}),
        "resources": list(resources),
        "coatbench": {
            "format": FORMAT,
            "version": __version__,
            "trial": plan.id,
            "unchecked": plan.unchecked,
            "schema_steps": list(MIGRATIONS.names),
            "store": record.store,
            "seal": record.seal,
            "misfit": record.misfit,
        },
    }


def package_name(trial: str) -> str:
    """The trial's id in signs that the standard allows in a name."""
    return re.sub(r"[^-a-z0-9._]+", "-", trial.lower()).strip("-") or "trial"


def as_text(value: Any) -> str:
    """JSON, one property a line."""
    return json.dumps(value, ensure_ascii=False, indent=1) + "\n"
