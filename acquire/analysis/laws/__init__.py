"""Laws of probability, and the integrals and roots they are made of. Pure; any thread."""
