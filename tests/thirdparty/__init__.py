"""Packages as other people would write them; `tests/flow/test_thirdparty.py` installs them."""
