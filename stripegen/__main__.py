"""The program, as ``stripegen`` and as ``python -m stripegen``."""

import sys

from stripegen.errors import STOPPED


def run() -> None:
    """Run the command line; on Ctrl-C end in one line, even while the commands are being loaded."""
    try:
        from stripegen.cli import main

        main(prog_name="stripegen")
    except KeyboardInterrupt:
        print(STOPPED, file=sys.stderr)
        sys.exit(1)


if __name__ == "__main__":
    run()
