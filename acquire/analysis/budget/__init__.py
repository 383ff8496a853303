"""Budgets of uncertainty: their table, their proof, and how far a difference must reach by them.

Pure; any thread.
"""
