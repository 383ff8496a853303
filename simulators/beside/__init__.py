"""Simulated devices beside the bench: counters of strokes, and a probe of the room's climate.

``python -m simulators.beside --layout strokes|total|climate --serial SERIAL`` and

====================  =========================================================================
``--host pty|tcp``    kind of port (pty; tcp with ``--tcp-port``)
``--link PATH``       pty: a symbolic link that always points at the present port
``--tcp-port N``      tcp (``--tcp`` for short): the port number; 0 for any free one
``--baud N``          its line's speed: a host set to another hears garbage (any is right)
``--format F``        with ``--baud``: data bits, parity, stop bits (8N1)
``--seed N``          of the noise on its line (0)
``--latency-s S``     from the stroke or the command to the first byte (0)
``--chatter P``       chance, for each line, of a burst of noise before it (0)
``--fault-share P``   chance, for each message, of one of the faults named by
                      ``--fault-kinds K``, drawn by the seed (0)
``--held-at-s S``     its time stands at S until the act `clock` moves it (the computer's)
====================  =========================================================================

They start switched on, counters at 0, the room at 21.4 degrees and 48.2 percent. Acts of their own,
beside those that every device knows (see the package `simulators`):

=========  =====================================================================================
`press`    counters: one stroke. The answer has the `total` and the `number` since power-on
`count`    counters: `to` is its running count from now on, as if somebody else had stroked it, or
           had set it back; its `number` follows
`room`     climate probe: `temperature_c`, `humidity_percent`, or both
`power`    `on` true or false; the running count stays, the number of strokes begins anew
`battery`  is empty after so many `presses`: the device goes off, until `power` brings it back
`swap`     another device of the model, with this `serial`
=========  =====================================================================================

The same acts give the same bytes; nothing of them is drawn.
"""
