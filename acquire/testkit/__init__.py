"""What other people's test suites use of Coatbench: pytest plug-ins, a whole bench, driver tests.

Nothing in the product imports this room.
"""
