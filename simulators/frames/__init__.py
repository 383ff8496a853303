"""Simulated devices of three binary layouts: `gloss`, `force` and `bands`.

``python -m simulators.frames --layout gloss|force|bands --serial SERIAL`` and

====================  =========================================================================
``--host pty|tcp``    kind of port (pty; tcp with ``--tcp-port``)
``--link PATH``       pty: a symbolic link that always points at the present port
``--tcp-port N``      tcp (``--tcp`` for short): the port number; 0 for any free one
``--baud N``          its line's speed: a host set to another hears garbage (any is right)
``--format F``        with ``--baud``: data bits, parity, stop bits (8N1)
``--seed N``          of all scatter and noise (0)
``--scatter X``       of one look: GU at 100 GU (0.1), newton (0.001), percent (0.05)
``--memory``          `gloss`: repeats its last result at power-on
``--latency-s S``     from the cause to the first byte (0; `bands` is silent for 0.06 at least)
``--chatter P``       chance, for each frame, of a burst of noise before it (0)
``--fault-share P``   chance, for each message, of one of the faults named by
                      ``--fault-kinds K``, drawn by the seed (0)
``--held-at-s S``     its time stands at S until the act `clock` moves it (the computer's)
====================  =========================================================================

What is measured is that of the line devices, and so are the acts: `gloss` has those of
`simulators.gloss`, `force` those of `simulators.force`, `bands` those of
`simulators.transmission`. Besides:

=========  =====================================================================================
`angles`   `gloss`: which geometries it measures from now on, as ``{"20": true, "60": true}``
`press`    `gloss`: `unsettled` true when the values do not settle, `lifted` true when it is lifted
           while it measures; pressed on nothing it fails with code 02
`cell`     `force`: `works` false: presses fail with code 03
`adjust`   `force`: the span, with a weight of `value_g` on the hook; it and `tare` are told alike.
           `bands`: the open beam, which has to be set anew after power-on
=========  =====================================================================================

Serial numbers have at most 8 characters in `gloss` and 7 in `force`; `bands` never tells its own.
The same seed, serial number and acts give the same bytes.
"""
