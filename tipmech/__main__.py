"""`python -m tipmech.cli`."""

from . import main

main()
