"""``python -m acquire.cli`` is ``coatbench``."""

from acquire.cli import main

main()
