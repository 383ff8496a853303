"""All readings of one zone at one stage, and weighted sums of such means. Pure; any thread."""
