"""Cases to be spoilt, one way each."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from acquire.verify.casefile import Case, CaseFile, read_cases

GOOD: dict[str, Any] = {
    "id": "one",
    "calc": "stats.summary",
    "quantity": "mean",
    "inputs": {"data": [1.0, 2.0, 3.0]},
    "expected": {"mean": 2.0},
    "tolerance": {"*": {"abs": 1e-12}},
    "source": "by hand",
    "status": "DERIVED",
}


def text_of(**changes: Any) -> str:
    """A case as text."""
    return json.dumps({**GOOD, **changes})


def written(folder: Path, text: str | bytes) -> Path:
    """A case file with this in it."""
    path = folder / "mine.json"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    return path


def read(folder: Path, text: str | bytes) -> CaseFile:
    """What is read of it."""
    return read_cases(written(folder, text))


def case(**changes: Any) -> Case:
    """A case without a fault."""
    return Case.model_validate({**GOOD, **changes})
