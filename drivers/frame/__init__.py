"""Devices that talk in binary frames, described by profiles (see WIRE.md beside this file)."""

from drivers.frame.family import FrameFamily

FAMILY = FrameFamily()

__all__ = ["FAMILY", "FrameFamily"]
