"""One treatment at one stage: what its results rest on, and the decision on it.

Pure; any thread.
"""
