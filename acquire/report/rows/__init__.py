"""Readings, decisions, lives and ratings as rows for a spreadsheet or a program."""
