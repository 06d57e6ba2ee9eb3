"""`python -m tipmech`."""

from .cli import main

main()
