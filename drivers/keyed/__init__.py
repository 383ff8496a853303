"""Instruments without a port, whose readings are typed (see WIRE.md beside this file)."""

from drivers.keyed.family import KeyedFamily

FAMILY = KeyedFamily()

__all__ = ["FAMILY", "KeyedFamily"]
