"""As many drawn meters again as in `tests.property.test_learn_family`, for another worker."""

from __future__ import annotations

import pytest

from tests.learning.goal import is_met


@pytest.mark.parametrize("part", [range(125), range(125, 250)], ids=str)
def test_of_as_many_others_nearly_all_are_learned_right_and_none_wrong(part: range) -> None:
    is_met(part)
