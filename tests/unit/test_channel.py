"""A channel as people write it."""

from __future__ import annotations

import pytest

from acquire.model import at_channel, channel_label, channel_labels


@pytest.mark.parametrize(
    ("channel", "label"),
    [("20", "20°"), ("85", "85°"), ("315-400", "315-400 nm"), ("940", "940 nm"), ("", "")],
)
def test_an_angle_is_told_from_a_band(channel: str, label: str) -> None:
    assert channel_label(channel) == label
    assert at_channel(channel) == (f" at {label}" if label else "")


def test_several_stand_in_a_row() -> None:
    assert channel_labels(("20", "60")) == "20°, 60°"
    assert channel_labels(("",)) == ""


def test_a_channel_of_a_strange_tape_is_shown_whatever_it_is() -> None:
    assert channel_label("9" * 5000) == "9" * 5000 + " nm"
