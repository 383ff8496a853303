"""Captions and chapters for the film of a trial, on the film's own clock."""
