"""Wash life: lives as intervals, their estimate and comparison, retention, crossings and trends.

A life is known as "passed at this count, failed at that one", or as "at least so many" where
washing stopped first; nothing here turns it into a number that nobody saw. Pure; any thread.
"""
