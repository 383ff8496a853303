"""The driver keeps every rule of Coatbench, with its own profile and the captures beside."""


def test_it_keeps_every_rule(keeps_every_rule):
    keeps_every_rule("plumb", captures="captures")
