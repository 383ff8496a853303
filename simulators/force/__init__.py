"""Simulated force gauges of three line layouts, `peak`, `powers`, `stream`, and a sled on a panel.

``python -m simulators.force --layout peak|powers|stream --serial SERIAL`` and

====================  =========================================================================
``--host pty|tcp``    kind of port (pty; tcp with ``--tcp-port``)
``--link PATH``       pty: a symbolic link that always points at the present port
``--tcp-port N``      tcp (``--tcp`` for short): the port number; 0 for any free one
``--baud N``          its line's speed: a host set to another hears garbage (any is right)
``--format F``        with ``--baud``: data bits, parity, stop bits (8N1)
``--seed N``          of all scatter and noise (0)
``--noise-n N``       scatter of one look in newton (0.001)
``--limit-n N``       end of the range in newton (20); `peak`, `powers`: none is told beyond
``--latency-s S``     from the press or the command to the first byte (0)
``--chatter P``       chance, for each line, of a burst of noise before it (0)
``--fault-share P``   chance, for each message, of one of the faults named by
                      ``--fault-kinds K``, drawn by the seed (0)
``--held-at-s S``     its time stands at S until the act `clock` moves it (the computer's)
====================  =========================================================================

The gauge starts switched on, in newton, with nothing on it and nothing drifted; the sled stands
nowhere. Acts of its own, beside those that every device knows (see the package `simulators`):

=========  =====================================================================================
`zone`     a zone of the panel: `name`; coefficients of friction `static` (0.4) and `kinetic`
           (0.3); `ageing`, the share that static friction gains with every decade of dwell
           (0.05); `first`, the factor of the first pull over a fresh lane (1.06); `texture`, the
           scatter from one sticking to the next (0.01). `bare` is there from the start
`place`    set the sled on a fresh lane of `zone`
`pull`     pull the sled: `mass_g` (200), `dwell_s` that it stood before (1), `speed_mm_per_s`
           (3), `stiffness_n_per_mm` of the line (1), `slides_s` after it broke free (0.8). The
           answer has `true_n`, the largest force there was, and `lasts_s`
`weight`   hang `mass_g` on the hook; 0 takes it off, and so does a pull. With `for_s` it is taken
           off by itself, after so long
`press`    `peak`, `powers`: press the button, with `moving` true while the force still moves
           (which only some layouts tell). The answer has `shown`, the number on the display (null
           where there is none), with its `unit`, `count`, `seen_n` and `beyond` (1, 0, -1); or
           `code` OFF
`tare`     the gauge's own button for zero, with what hangs on it now
`adjust`   gauges that have such a button (see `simulators.frames`): read the weight on the hook as
           `value_g`
`cell`     gauges that can tell, such as `powers`: `works` true or false of the sensor
`unit`     `unit`: N, gf; `peak` and `stream` also kgf, lbf; `peak` also ozf
`drift`    `gain` (a factor) and `offset` (N) come on top of what has drifted already: now, or with
           `per_press` true by so much after each press (1 and 0 stop it)
`power`    `on` true or false; counting begins anew
`battery`  is empty after so many `presses`: the device goes off, until `power` brings it back
`swap`     another gauge of the model, with this `serial`, is plugged in at the same port; with
           `hang_up` false behind an adapter that stays plugged, and is switched on there
=========  =====================================================================================

For `peak` and `powers` the same seed, serial number and acts give the same bytes. `stream` sends a
thousand samples a second by the clock; a pull takes as long there as it lasts.
"""
