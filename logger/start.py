"""The way in: a Ctrl-C while the program is still being read in ends it without a word."""

from __future__ import annotations

import signal


def main() -> None:
    """The command line (see `logger.cli`)."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    from logger import cli

    signal.signal(signal.SIGINT, signal.default_int_handler)
    cli.main()
