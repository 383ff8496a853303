"""Slickness: the pulls of a continuous trace of force, each with its peak and its steady window.

The way in is `segment`. Pure; any thread.

The gauge that streams has its own rule for pulls at the bench (`acquire.driverkit.streaming`): two
fixed levels, sample by sample as they come, and the largest value of the whole pull, which is what
a gauge with a peak memory holds. Here the whole trace is known, before and after; the zero moves,
and the static peak is the first one, which a later one may exceed. So the rules are two, and
`Pull.largest_n` is the figure that both have.
"""
