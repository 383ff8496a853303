"""The middle of a trial file: a panel with one product beside its control."""

PANEL = """
[panel]
name = "Panel 7"
"""
TREATMENTS = """
[[treatment]]
id = "none"
name = "Untreated"
control = true

[[treatment]]
id = "tern"
name = "Tern wax"
"""
ZONES = """
[[zone]]
id = "A"
treatment = "none"

[[zone]]
id = "B"
treatment = "tern"
"""
TWO_ZONES = PANEL + TREATMENTS + ZONES
