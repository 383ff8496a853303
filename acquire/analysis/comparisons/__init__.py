"""Treatments held against the control and against one another. Pure; any thread."""
