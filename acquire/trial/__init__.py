"""The work of a trial beside its readings: how products are dealt, hidden, washed and judged.

Pure: plans, rows and moments in, facts out. Never asks the time, opens no link and writes nothing.
"""
