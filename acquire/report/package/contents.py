"""What a package says it has, held against what it has: the descriptor, and the digests of files.

Reads the package and writes nothing. One thread.
"""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any, NamedTuple

from acquire.report.package.descriptor import FORMAT
from acquire.report.package.limits import MOST_DESCRIPTOR_BYTES
from acquire.report.package.source import Source, read_whole, safe_path, unfit
from acquire.report.package.writing import DESCRIPTOR, SUMS
from acquire.store.schema import MIGRATIONS

_LINE = re.compile(r"([0-9a-f]{64}) [ *](.+)")
_SHA = re.compile(r"sha256:([0-9a-f]{64})")
_CHUNK = 1 << 20


class Contents(NamedTuple):
    """`tables` are the paths of the store's tables; `faults` say what is not as it was written."""

    trial: str
    version: str
    tables: dict[str, str]
    faults: tuple[str, ...]


def contents_of(source: Source) -> Contents:
    """Look through a package. Raises `Misuse` where it is none, or of a newer Coatbench."""
    said = _descriptor(source)
    own = said["coatbench"]
    files: dict[str, str] = {}
    tables: dict[str, str] = {}
    for resource in said["resources"]:
        if not isinstance(resource, dict) or not isinstance(resource.get("path"), str):
            raise unfit(f"{DESCRIPTOR} is none of a package", "a resource without a path")
        path = safe_path(resource["path"])
        digest = _SHA.fullmatch(str(resource.get("hash")))
        if digest is not None:
            files[path] = digest[1]
        if isinstance(resource.get("table"), str):
            tables[resource["table"]] = path
    return Contents(str(own["trial"]), str(own.get("version")), tables, _faults(source, files))


def _descriptor(source: Source) -> dict[str, Any]:
    raw = read_whole(source, DESCRIPTOR, MOST_DESCRIPTOR_BYTES)
    try:
        said = json.loads(raw.decode())
    except (ValueError, RecursionError) as e:
        raise unfit(f"{DESCRIPTOR} cannot be read", str(e)[:120], "JSON in UTF-8") from e
    if not isinstance(said, dict) or not isinstance(said.get("resources"), list):
        raise unfit(f"{DESCRIPTOR} is none of a package", "no list of resources")
    own = said.get("coatbench")
    if not isinstance(own, dict) or not isinstance(own.get("trial"), str):
        raise unfit("the package is none of Coatbench", f"{DESCRIPTOR} without a trial of ours")
    steps = own.get("schema_steps")
    known = set(MIGRATIONS.names)
    newer = [s for s in steps if s not in known] if isinstance(steps, list) else ["none"]
    if own.get("format") != FORMAT or newer:
        step = f", schema step {newer[0]!r}"[:60] if newer else ""
        raise unfit(
            "the package was written by another Coatbench",
            f"format {own.get('format')!r}"[:60] + step,
            f"format {FORMAT} and schema steps up to {max(known)}",
        )
    return said


def _faults(source: Source, files: dict[str, str]) -> tuple[str, ...]:
    """Files that are changed, missing or too many, in words."""
    sums: dict[str, str] = {}
    for line in (
        read_whole(source, SUMS, MOST_DESCRIPTOR_BYTES).decode("utf-8", "replace").split("\n")
    ):
        if line:
            found = _LINE.fullmatch(line)
            if found is None:
                return (f"{SUMS} has a line that is none: {line[:60]!r}",)
            sums[found[2]] = found[1]
    faults = [f"{path} is missing" for path in sorted({*sums, *files} - set(source.sizes))]
    faults += [
        f"{path} is in no list of the package" for path in sorted(set(source.sizes) - {*sums, SUMS})
    ]
    for path in sorted(set(source.sizes) & {*sums, *files}):
        digest = _digest(source, path)
        if digest != sums.get(path, digest) or digest != files.get(path, digest):
            faults.append(f"{path} is not the file that was packaged")
    return tuple(faults)


def _digest(source: Source, path: str) -> str:
    digest = hashlib.sha256()
    with source.open(path) as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()
