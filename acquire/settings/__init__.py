"""What a person writes down before work begins, as frozen facts: bench, policies, trial plans.

Never asks the time, opens no link and writes nothing. Any thread. A bench and its policies are
imported where they are asked for: results want the plan of a trial alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from acquire.settings.shipped import captures_dir, config_dir
from acquire.settings.trial import load_plan, parse_plan

if TYPE_CHECKING:
    from acquire.settings.bench import load_bench
    from acquire.settings.policy import load_policy

__all__ = ["captures_dir", "config_dir", "load_bench", "load_plan", "load_policy", "parse_plan"]


def __getattr__(name: str) -> object:
    if name == "load_bench":
        from acquire.settings.bench import load_bench  # noqa: PLC0415 - slow

        return load_bench
    if name == "load_policy":
        from acquire.settings.policy import load_policy  # noqa: PLC0415 - slow

        return load_policy
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
