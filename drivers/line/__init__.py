"""Devices that talk in text lines, each described by a profile (see WIRE.md beside this file)."""

from drivers.line.family import LineFamily

FAMILY = LineFamily()

__all__ = ["FAMILY", "LineFamily"]
