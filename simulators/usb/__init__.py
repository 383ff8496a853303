"""Simulated USB devices beneath pyusb: a bus that pyusb's own calls run on.

No system lets a program be a USB device: they live in the process that speaks to them, or in
another one that serves its bus on loopback. What
they do is written from the public specifications and from the pages of the drivers alone; beside
the standard library only pyusb is imported, for its backend interface and its errors.

=================  =================================================================
`backend`          `SimulatedBackend`: the bus, with the errors of a real library
`served_bus`       `ServedBus`: a bus open to other processes
`far_bus`          `FarBus`: such a bus as pyusb's backend; `words` what passes between both
`device`           `SimulatedDevice`: plug, permission, the system's own driver
`descriptors`      what a device says of itself
`behaviour`        `Behaviour`: the small interface that a device fills
`faults`           what can befall packets, each by name, or drawn by a seed
`waiting`          the time of the bus, so that no timeout need be sat out
`errors`           what a USB library raises
`packets`          transfers cut into packets
`loopback`         a device that gives back what it is given
`transmission`     the invented transmission head, to plug in
`head`             its commands; `status` its registers; `light` lamp, slide and film
`tmc`              the test-and-measurement class, with USB488
`scales`           HID devices to plug in: a weighing gauge, and one that types
`hid`              the HID class; `weighing` and `keyboard` what their reports hold
`load`             weights, and a sled that is pulled
`hand`             what a hand does to any such device, as acts by name; `head_hand` and
                   `gauge_hand` what it does to these two; `hands` which of them a layout wants
=================  =================================================================

    backend = SimulatedBackend()
    head = transmission_head("LG-0093", seed=1)
    backend.plug(head)
    head.lay(BLANK)
    head.press()
    usb.core.find(serial_number="LG-0093", backend=backend)

Everything a hand does to a device (`press`, `put`, `unplug`, ...) may come from any thread.
"""
