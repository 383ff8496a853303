"""Films on slides: what they let through, and whether that can be told at all. Pure; any thread."""
