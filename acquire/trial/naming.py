"""Products beside their codes, once a trial is unsealed. Pure; any thread."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from acquire.model import Plan


def named_plan(plan: Plan, products: Mapping[str, str]) -> Plan:
    """The plan with the names of its products, each with its code: ``Grebe wax (483)``.

    Text and digest stay those of the file. A code without a product keeps its name.
    """
    treatments = tuple(
        replace(t, name=f"{products[t.id]} ({t.id})") if t.id in products else t
        for t in plan.treatments
    )
    return replace(plan, treatments=treatments)
