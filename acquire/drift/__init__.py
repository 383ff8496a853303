"""The drift of this bench's meters: past checks out of the store, and what they say, in words.

Reads the store through a read-only connection on the thread of whoever asks, never on that of the
recorder; so it may be used while a daemon records, and without one. What the figures mean is worked
out by `acquire.history`; nothing here judges a check or opens the gate.
"""
