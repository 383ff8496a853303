"""The interface a driver plug-in implements. Nothing here opens, waits, sleeps or stores.

The registry that finds plug-ins by entry point lives in `acquire.driverapi.registry` and is not
imported from here: a driver must not pull in the machinery that loads it.
"""

from acquire.driverapi.driver import Driver, Due, Family
from acquire.driverapi.needs import LinkNeeds, Needs, Parity, TypedNeeds, UsbNeeds

__all__ = ["Driver", "Due", "Family", "LinkNeeds", "Needs", "Parity", "TypedNeeds", "UsbNeeds"]
