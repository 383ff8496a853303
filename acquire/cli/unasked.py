"""Which meters cannot be asked who they are, in the words of `coatbench devices`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from acquire.model import Bench


def unasked_lines(bench: Bench | None, names: Sequence[str]) -> list[str]:
    """What of these instruments nobody sees: that another one was put on the cable."""
    return [
        f"  exchange  nothing tells {spec.id} from another meter on its cable, since its profile "
        "asks for no serial number: leave the cable alone between check and run, or check again"
        for spec in (bench.instruments if bench else ())
        if spec.id in names and not tells_its_name(spec.profile)
    ]


def tells_its_name(profile: Mapping[str, Any]) -> bool:
    """Whether a device is asked for its serial number, or says it with each reading."""
    return bool({"identify", "identity"} & profile.keys()) or any(
        (message.get("means") == "reading" or message.get("in_press"))
        and ("serial" in message or "(?P<serial>" in message.get("pattern", ""))
        for message in profile.get("message", ())
    )
