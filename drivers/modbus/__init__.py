"""Devices that speak Modbus RTU or TCP, each described by a profile (see WIRE.md beside this)."""

from drivers.modbus.family import ModbusFamily

FAMILY = ModbusFamily()

__all__ = ["FAMILY", "ModbusFamily"]
