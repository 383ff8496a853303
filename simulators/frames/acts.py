"""What a hand can do with the binary gloss meter beyond what it can with every gloss meter.

One thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from simulators.arguments import ActFault, Arguments
from simulators.frames.gloss import FrameGloss, Mishap
from simulators.gloss.acts import GlossBench
from simulators.gloss.surface import ANGLES, Surface
from simulators.stand import Deed


class FrameGlossBench(GlossBench):
    """The binary gloss meter in the tester's hand."""

    device: FrameGloss

    def __init__(
        self, make: Callable[[str], FrameGloss], serial: str, surfaces: Iterable[Surface] = ()
    ) -> None:
        super().__init__(make, serial, surfaces)
        self._doings["angles"] = self._angles

    def _press(self, args: Arguments) -> Deed:
        self.device.mishap = Mishap(args.flag("unsettled", False), args.flag("lifted", False))
        return super()._press(args)

    def _memory(self, args: Arguments) -> Deed:
        self.device.memory = args.flag("on")
        args.finish()
        return Deed()

    def _angles(self, args: Arguments) -> Deed:
        angles = [angle for angle in ANGLES if args.flag(str(angle), False)]
        args.finish()
        if not angles:
            raise ActFault("angles", "nothing", 'at least one, as {"20": true}')
        self.device.measured = angles
        return Deed({"angles": angles})
