"""Protocol families: one folder each, with codec, driver and WIRE.md. Pure: bytes in, facts out."""
