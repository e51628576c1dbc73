"""`gladhand` and `python -m assistant`."""

from __future__ import annotations

import sys

from assistant.cli import run


def main() -> None:
    """Run the command line and leave with its exit code."""
    sys.exit(run())


if __name__ == "__main__":
    main()
