"""The data package of a trial, by the open standard Data Package: written, and read back.

`write_package` gives everything that the results of a trial rest on to whoever wants to see for
himself, `recompute` computes them anew from such a package and says number by number whether they
are the same.
"""
