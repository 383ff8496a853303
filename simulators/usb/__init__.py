"""Simulated USB devices beneath pyusb: a bus that pyusb's own calls run on.

    backend = SimulatedBackend()
    backend.plug(device)
    usb.core.find(idVendor=0x1209, backend=backend)

Beside the standard library only pyusb is imported, for its backend interface and its errors.
"""
