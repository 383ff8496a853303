"""How far people who rate the same things agree. Pure; any thread."""
