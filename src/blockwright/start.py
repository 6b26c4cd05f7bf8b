"""Where the ``blockwright`` command begins: before anything is loaded, so that it can be stopped at once."""

import sys


def main() -> None:
    """Load the commands and run the one that was asked for; Ctrl-C meanwhile ends it in a sentence."""
    try:
        from blockwright.cli import main as run_command
    except KeyboardInterrupt:
        print("Stopped before anything was done.", file=sys.stderr)
        sys.exit(130)
    run_command()
