"""Drawings of the report: SVG for a page, by matplotlib's object interface."""
