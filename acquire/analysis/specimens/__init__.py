"""How readings, zones and slides scatter, and the lines of a budget that tell it.

Pure; any thread.
"""
