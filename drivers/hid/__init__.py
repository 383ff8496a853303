"""Devices of the USB human interface class that report figures (see WIRE.md beside this file)."""

from drivers.hid.family import HidFamily

FAMILY = HidFamily()

__all__ = ["FAMILY", "HidFamily"]
