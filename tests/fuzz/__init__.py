"""Random and mutated bytes for every driver family with every profile that ships."""
