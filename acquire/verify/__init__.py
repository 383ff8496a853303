"""The program held against check values: what a laboratory needs to file before it relies on it.

Case files in, verdicts and a record out; the calculations are those that results use, called
through `calcs`. Nothing in a case file is run as code. Never touches a store or an instrument.
"""
