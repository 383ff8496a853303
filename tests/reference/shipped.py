"""The cases that come with Coatbench, read as `coatbench verify` reads them."""

from __future__ import annotations

from acquire.verify.casefile import Case, read_cases
from acquire.verify.shipped import case_files

FILES = [read_cases(path) for path in case_files()]
ENTRIES = [entry for file in FILES for entry in file.entries]
CASES: list[Case] = [entry.case for entry in ENTRIES if entry.case is not None]
