"""Stand-alone simulated devices: a second implementation of the wire, never of our codec.

Each device is a program of its own behind a real port of the operating system, driven by a hand
that sends it acts. It is written from the public description of its protocol alone and from the
standard library alone, so that a misread description shows as a difference.

The parts, from the bytes outwards:

=================  =================================================================
`gloss`            gloss meters: surfaces, drift, two wire layouts, acts (see there)
`force`            force gauges: a sled on a panel, weights, two line layouts
`transmission`     a band head: lamp, slides with films, filters, one line layout
`beside`           counters of strokes and a climate probe, beside the bench
`frames`           the same things measured, told in three binary layouts
`modbus`           the same things measured, behind registers: RTU and TCP
`usb`              USB devices beneath pyusb, in the process that speaks to them (see there)
`bench`            the hand that holds a device, `program` the program that serves it
`checks`           the checks of binary messages
`faults`           what can befall one line on its way, each by name
`uart`             a line's bits, and what an end makes of them that is set to another speed
`line`             `TroubledLine`: whole lines in, timed pieces with their faults out
`host`             what a port is; `pty_host` a pseudo-terminal, `tcp_host` loopback
`arguments`        reads the arguments of acts and refuses wrong ones
`stand`            `Stand`: the loop of port, control channel and time
`clock`            the time of a device: the computer's, or one that a hand moves
`control`          the standard input as a socket
`handle`           `DeviceProcess`: starts such a program and holds it
`scenario`         a whole bench of devices, and what befalls it; `scenario_file` its file
`wires`            the wires that a scenario may name, with their options
`things`           zones and reference pieces, as each kind of meter sees them
`hand`             puts one device on things and presses it; `commands` lines that say so
`rig`              `Rig`: a scenario that runs
=================  =================================================================

From another program::

    with DeviceProcess("gloss", layout="press", serial="SH-0417", seed=1, link=path) as shore:
        shore.act("place", surface="trap")
        shore.act("press")

Without a process, a port or a thread::

    device = gloss_device("press", serial="SH-0417", seed=1)
    device.meter.place(TRAP)
    line = TroubledLine(device.end, "seed")
    pieces = line.send(device.press())

**Acts** come as JSON lines on the standard input, ``{"act": NAME, ...}``; each gets one JSON line
on the standard output: ``{"ok": true, ...}`` or ``{"error": "WHAT: got X, wanted Y"}``. The very
first line is ``{"ready": true, ...}`` with the port: `path` (and `device`, what the link points
at) or `url` (and `tcp_port`), and `serial`. The end of the input is `quit`. When an act made
the device send something to somebody, its answer has `sent_bytes` and `sent_mono_ns`, the
monotonic clock just before the first of them went out.

Acts that every device knows:

=========  =====================================================================================
`unplug`   whoever has the port open is hung up; the link vanishes. The device stays as it is
`plug`     a new port under the same link (or the same number); the answer has its address
`fault`    `kind` (see `faults`), for the next `lines` lines (1), and what the kind takes:
           `garbage` bytes 12 or hex, ended false; `cut` at (half); `torn` at, gap_s 0.05;
           `stalled` at (half), gap_s 0.5;
           `late` delay_s 1; `split` gap_s 0.002; `corrupted` at (half), xor (one bit);
           `repeated` times 1; `wrong_terminator` hex "0a"; `flood` bytes 65536, ended true;
           `endless` bytes 100000, gap_s 0.01; `wrong_speed` baud 9600, format "8N1", heard_baud
           (twice as much; the same with heard_format), errors "kept", "zeroed" or "dropped";
           `lost`, `glued` and `clean` nothing.
           Faults wait in a queue, and each line the device sends takes one
`echo`     `on` true: a two-wire adapter gives back every byte that the host sends
`hush`     forget waiting faults, and send no more of what is being sent
`state`    all that is worth knowing; `shown` is what its display shows, if it has one
`quit`     close the port and end
=========  =====================================================================================

A device that was started with ``--baud`` (and ``--format``) listens to what speed the host has
set on its pseudo-terminal: if another one, both hear garbage, bit by bit as `uart` has it.

The time of a device that was started with ``--held-at-s`` stands until the act `clock` moves it, to
`to_s` in seconds. What is due by then (samples, a late answer) has been sent before that act is
answered.

What is sent while nobody has the port open is lost, and so is what a reader left unread: a later
opener never finds old lines. (A port closed and opened again faster than the device can look, some
tens of microseconds, keeps what was unread.)
"""
