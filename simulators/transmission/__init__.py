"""A simulated transmission head that sends its bands in one line, and what lies in its beam.

``python -m simulators.transmission --layout bands --serial SERIAL`` and

====================  =========================================================================
``--host pty|tcp``    kind of port (pty; tcp with ``--tcp-port``)
``--link PATH``       pty: a symbolic link that always points at the present port
``--tcp-port N``      tcp (``--tcp`` for short): the port number; 0 for any free one
``--baud N``          its line's speed: a host set to another hears garbage (any is right)
``--format F``        with ``--baud``: data bits, parity, stop bits (8N1)
``--seed N``          of all scatter and noise (0)
``--noise-sd P``      scatter in percent of the open beam (0.05), thrice that in the ultraviolet
``--latency-s S``     from the press or the command to the first byte (0)
``--chatter P``       chance, for each line, of a burst of noise before it (0)
``--fault-share P``   chance, for each message, of one of the faults named by
                      ``--fault-kinds K``, drawn by the seed (0)
``--held-at-s S``     its time stands at S until the act `clock` moves it (the computer's)
====================  =========================================================================

The head starts switched on an hour ago, its open beam set, with nothing in the beam. Time is its
own: only `press` (2 s) and `wait` let it pass. Acts of its own, beside those that every device
knows (see the package `simulators`):

=========  =====================================================================================
`piece`    lay a piece within reach: `name`, and `percent` by band (``{"315-400": 12.4}``) for
           one of certified values; else a slide: `clear` (0.92), `edge_nm` (320),
           `edge_width_nm` (5), and of its `film` the factor of each band. `open`, `dark`, `N50`
           (50 % in every band) and `blank` (bare glass) are there from the start. The answer has
           what is `true` of it
`place`    lay `piece` into the beam
`press`    press the button. The answer has `count` and, by band, `shown`, the numbers on the
           display (null above the range), and `seen`; or a `code`: LAMP, OFF
`wait`     let the lamp burn for `seconds`: a cold one comes up within minutes
`adjust`   the head's own key: what comes through now is 100 %, and the dark is none
`drift`    `gain` of the lamp (a factor) and `offset` of the dark (percent) come on top of what has
           drifted already: now, or with `per_press` true after each press (1 and 0 stop it)
`lamp`     `works` true or false
`power`    `on` true or false; counting begins anew and the lamp is cold
`battery`  is empty after so many `presses`: the device goes off, until `power` brings it back
`swap`     another head of the model, with this `serial`, is plugged in at the same port; with
           `hang_up` false behind an adapter that stays plugged, and is switched on there
=========  =====================================================================================

The same seed, serial number and acts give the same bytes.
"""
