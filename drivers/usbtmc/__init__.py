"""Devices of the USB test and measurement class (see WIRE.md beside this file)."""

from drivers.usbtmc.family import UsbtmcFamily

FAMILY = UsbtmcFamily()

__all__ = ["FAMILY", "UsbtmcFamily"]
