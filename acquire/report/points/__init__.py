"""Scorecards applied to trials of a store, and the table over all of them."""
