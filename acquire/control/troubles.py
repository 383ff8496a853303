"""Errors as JSON objects, and back."""

from __future__ import annotations

from typing import Any

from acquire import errors
from acquire.errors import CoatbenchError, ControlError, Fault, Refused, SettingsError

_KINDS: dict[str, type[CoatbenchError]] = {
    kind.__name__: kind
    for kind in vars(errors).values()
    if isinstance(kind, type) and issubclass(kind, CoatbenchError)
}


def error_item(error: CoatbenchError) -> dict[str, Any]:
    """An error with its parts."""
    item: dict[str, Any] = {
        "kind": type(error).__name__,
        "what": error.what,
        "got": error.got,
        "wanted": error.wanted,
        "next_step": error.next_step,
    }
    if isinstance(error, Refused):
        item["reason"] = error.reason
    if isinstance(error, SettingsError):
        item["source"] = error.source
        item["faults"] = [list(fault) for fault in error.faults]
    return item


def error_of(item: object) -> CoatbenchError:
    """The error that an object tells of; whatever else answers gives a `ControlError`."""
    if not isinstance(item, dict):
        return ControlError(
            "what answers is no daemon of Coatbench",
            got=repr(item)[:200],
            wanted="an error in its parts",
            next_step="stop the daemon and start coatbench serve again",
        )
    kind = _KINDS.get(str(item.get("kind")), CoatbenchError)
    parts = {part: str(item.get(part, "")) for part in ("got", "wanted", "next_step")}
    what = str(item.get("what", "the daemon reports an error"))
    if kind is SettingsError:
        found = item.get("faults")
        faults = [
            Fault(*map(str, fault))
            for fault in (found if isinstance(found, list) else [])
            if isinstance(fault, list) and len(fault) == len(Fault._fields)
        ]
        return SettingsError(str(item.get("source", "")), faults, next_step=parts["next_step"])
    if kind is Refused:
        return Refused(what, reason=str(item.get("reason", "")), **parts)
    return kind(what, **parts)
