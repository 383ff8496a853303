"""Simulated gloss meters of two layouts, `press` and `asked`, as their public description has it.

``python -m simulators.gloss --layout press|asked --serial SERIAL`` and

=========================  ====================================================================
``--host pty|tcp``         kind of port (pty; tcp with ``--tcp-port``)
``--link PATH``            pty: a symbolic link that always points at the present port
``--tcp-port N``           tcp (``--tcp`` for short): the port number; 0 for any free one
``--baud N``               its line's speed: a host set to another hears garbage (any is right)
``--format F``             with ``--baud``: data bits, parity, stop bits (8N1)
``--seed N``               of all scatter and noise (0)
``--angles 20 [60 [85]]``  geometries of one press; `press` only, `asked` knows 60
``--repeatability-sd GU``  scatter on one spot at 100 GU (0.1), a fifth of it at 0 GU
``--surfaces FILE``        JSON: a list of surfaces, each with the arguments of act `surface`
``--firmware M.N``         `press`: as told at power-on (1.4)
``--cold-share X``         how much less a cold lamp gives (0); it comes up within minutes
``--memory``               `press`: repeats its last result line at power-on
``--latency-s S``          from the press or the command to the first byte (0)
``--chatter P``            chance, for each line, of a burst of noise before it (0)
``--fault-share P``        chance, for each message, of one of the faults named by
                           ``--fault-kinds K``, drawn by the seed (0)
``--held-at-s S``          its time stands at S until the act `clock` moves it (the computer's)
=========================  ====================================================================

The meter starts switched on, lifted, with nothing drifted. Acts of its own, beside those that
every device knows (see the package `simulators`):

=========  =====================================================================================
`surface`  lay a surface within reach: `name`, `gloss` by angle (``{"20": 82.1}``), `texture_sd`,
           `swirl` (GU lost across the marks), `swirl_deg`, `slope` (GU more at the far edge than
           at the near one), `spots` (the share of it that has spots), `spot_loss` (GU missing on
           them). `trap` is there from the start
`place`    set the meter on `surface`, turned by `turned_deg` (0); anywhere on it at each press, or
           `along` from -0.5 (near edge) to 0.5
`lift`     take it up: presses give no reading (`press`: code LIFT)
`press`    press the button, on a new spot of the surface, or `still` on the same one. The answer
           has `count` and, by angle, `shown` (null above the range) and `true`; or a `code`:
           LIFT, LAMP, OFF
`drift`    `gain` (a factor) and `offset` (GU) come on top of what has drifted already: now, or
           with `per_press` true by so much after each press (1 and 0 stop it)
`adjust`   the meter's own adjust button on the piece it stands on: `values`, the certified ones by
           angle. A piece below 10 GU sets the zero, another the gain
`lamp`     `works` true or false
`power`    `on` true or false; counting begins anew and the lamp is cold
`wait`     let the lamp burn for `seconds`: time is the meter's own, a press takes 2 s of it
`memory`   `on` true or false; see ``--memory``
`battery`  is empty after so many `presses`: the device goes off, until `power` brings it back
`swap`     another meter of the model, with this `serial`, is plugged in at the same port. With
           `hang_up` false it is exchanged behind an adapter that stays plugged, and is switched
           on there
=========  =====================================================================================

The same seed, serial number and acts give the same bytes.
"""

from simulators.gloss.device import AskedDevice, GlossDevice, PressDevice, gloss_device
from simulators.gloss.meter import Meter, Press, Shown
from simulators.gloss.surface import TRAP, Surface

__all__ = [
    "TRAP",
    "AskedDevice",
    "GlossDevice",
    "Meter",
    "Press",
    "PressDevice",
    "Shown",
    "Surface",
    "gloss_device",
]
