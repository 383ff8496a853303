"""Studies of a bench: repeatability, reproducibility, warm-up. Pure; any thread."""
