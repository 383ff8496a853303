"""Stand-alone simulated devices: a second implementation of the wire, never of our codec."""
