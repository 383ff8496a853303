"""The driver test on drivers of every kind: apart, since it looks at all of a family's package."""
