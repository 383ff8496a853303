"""The checks around readings, and what they tell of the meter in between. Pure; any thread."""
