"""Studies of the instruments on this bench: their plans, what their readings say, what is lent.

A study is a plan of its own kind. Its spots are zones, its people are stages, its readings are
replicates, so that the gate, the store, the screens and a restart treat it as any run; nothing of
it is stored but plan and readings, and its figures are computed from these every time. Reads the
store, never writes.
"""
