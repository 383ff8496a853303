"""The gate under every policy: an oracle of its own, a small world, and what walks at random in it.

`oracle` says what the rules of a check say, without a line of the gate's code; `world` is a desk on
a real store with the oracle beside it. The tests are in ``tests/property/test_gate_policies.py``.
"""
