"""As many drawn meters again as in `tests.property.test_learn_family`, for another worker."""

from __future__ import annotations

from tests.learning.goal import is_met


def test_of_as_many_others_nearly_all_are_learned_right_and_none_wrong() -> None:
    is_met(range(250))
