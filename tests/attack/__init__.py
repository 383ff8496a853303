"""Everything that can be asked of Coatbench, asked in the wrong order, and by hands that cheat.

`audit` says from the raw facts of a store what may count, without a line of the gate. `calls` and
`commands` know something to ask by every call and command there is, `hands` edits files behind the
daemon's back, `attack` puts them in an order by a seed. ``python -m tests.attack`` goes on longer.
"""
