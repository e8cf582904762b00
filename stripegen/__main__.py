"""``python -m stripegen``."""

from stripegen.cli import main

main(prog_name="stripegen")
