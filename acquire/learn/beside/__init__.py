"""What stands beside the number: geometry, band, codes, other numbers, what a person said. Pure."""
