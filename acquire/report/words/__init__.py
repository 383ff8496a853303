"""Moments, tables, values and columns as a report says them. Facts only; light to import."""
