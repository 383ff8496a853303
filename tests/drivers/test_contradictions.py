"""What a profile says twice and differently is told when it is loaded, by every family."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from acquire.schema import either
from drivers.line import FAMILY as LINE
from tests.captures import profile
from tests.drivers.faulty import told


def changed(layout: str, **entries: Any) -> dict[str, Any]:
    """A shipped profile with entries put in place of its own: ``message__0__count``."""
    table = deepcopy(dict(profile(layout)))
    for path, entry in entries.items():
        *way, last = [int(step) if step.isdecimal() else step for step in path.split("__")]
        place: Any = table
        for step in way:
            place = place[step] if isinstance(place, list) else place.setdefault(step, {})
        place[last] = entry
    return table


# -- lines -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("channels", [{}, {"default": "940"}])
def test_values_whose_tokens_nobody_explains_are_a_fault_of_the_profile(
    channels: dict[str, Any],
) -> None:
    faults = told(LINE, changed("transmission-bands", band=channels))
    assert faults["band.tokens"][0] == "nothing"
    assert faults["band.tokens"][1].startswith("'ir', which the group value_ir")


def test_no_choice_at_all_can_be_said_in_words() -> None:
    assert either([]) == "nothing"
