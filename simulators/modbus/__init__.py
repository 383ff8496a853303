"""Simulated devices behind Modbus registers: `force` on TCP, the others on RTU.

``python -m simulators.modbus --layout LAYOUT --serial SERIAL`` with one of gloss, transmission,
force, counter, climate, and

====================  =========================================================================
``--host pty|tcp``    kind of port (pty; tcp with ``--tcp-port``): RTU goes over both, as behind a
                      serial server; `force` over tcp alone
``--link PATH``       pty: a symbolic link that always points at the present port
``--tcp-port N``      tcp (``--tcp`` for short): the port number; 0 for any free one
``--baud N``          its line's speed: a host set to another hears garbage (any is right)
``--format F``        with ``--baud``: data bits, parity, stop bits (8N1)
``--seed N``          of all scatter and noise (0)
``--scatter X``       of one look: GU at 100 GU (0.1), percent (0.05), newton (0.001)
``--latency-s S``     from the request to the first byte (0; RTU is silent for 3.5 characters)
``--chatter P``       chance, for each answer, of a burst of noise before it (0)
``--fault-share P``   chance, for each message, of one of the faults named by
                      ``--fault-kinds K``, drawn by the seed (0)
``--held-at-s S``     its time stands at S until the act `clock` moves it (the computer's)
====================  =========================================================================

It is a small server of its own, written from the public specifications (see `pdu` and `framing`).
What is measured is that of the line devices, and so are the acts: `gloss` has those of
`simulators.gloss` but `memory`, `force` those of `simulators.force`, `transmission` those of
`simulators.transmission`, `counter` and `climate` those of `simulators.beside`. Besides:

=========  =====================================================================================
`angles`   `gloss`: which geometries it measures from now on, as ``{"20": true, "60": true}``
`battery`  `gloss`: `low` true or false, told with each press; or `presses`, as of others
`slow`     `transmission`: it measures for `measures_s` (0.5) from now on, busy meanwhile. A failed
           lamp is exception 4 to the command
`echo`     `gloss`, `transmission`: `on` true: a two-wire adapter gives every request back
`pull`     `force`: the result is there when the pull has ended; the answer has its `shown`
`press`    `force`: takes what pulls now; the result is there after 0.3 s. `transmission`: as if the
           host had written the coil
=========  =====================================================================================

A fault befalls one answer. Serial numbers have at most 16 characters in `gloss`, 8 in `force`.
The same seed, serial number and acts give the same values.
"""
