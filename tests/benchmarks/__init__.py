"""Coatbench beside a plain hand-written logger, in one run: ``python -m tests.benchmarks``."""
