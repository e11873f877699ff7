"""`python -m assistant` is the command `enginebay`."""

from assistant.cli import main

main()
