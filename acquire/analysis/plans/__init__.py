"""How many readings, zones and slides a comparison needs. Pure; any thread."""
