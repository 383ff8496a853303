"""Indexes by which a report finds its rows in a store with many other trials. Part of the schema.

Each is on rows that are few or come in few: what a press writes is a row of a run, and none of
these looks at such a row but `seal_register`, which has an entry of the seals of a register alone.
"""

from __future__ import annotations

REGISTER = ("instrument", "piece", "certificate", "certificate_file")
"""What is recorded of the bench itself, whatever trial it is for."""

HAS_REGISTER = " OR ".join(f"instr(', ' || stretches, ', {table} ') > 0" for table in REGISTER)
"""Of a seal: whether it has rows of the register. Word for word that of the index, or it is not
used."""

FINDING = f"""
CREATE INDEX reading_loose ON reading (sitting_id) WHERE role = 'loose';
CREATE INDEX assignment_run ON assignment (run_id);
CREATE INDEX spectrum_of_connection ON spectrum (connection_id);
CREATE INDEX seal_register ON seal (id) WHERE {HAS_REGISTER};
"""
