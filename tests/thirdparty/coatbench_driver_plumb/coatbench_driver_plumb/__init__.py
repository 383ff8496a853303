"""Coatbench driver for force gauges that speak plumb (WIRE.md). Importing it opens nothing."""

from coatbench_driver_plumb.family import PlumbFamily

FAMILY = PlumbFamily()

__all__ = ["FAMILY"]
