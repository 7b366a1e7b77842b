"""One base for every error that a person reads: what happened to which item, and what to do."""


class FallbookError(Exception):
    """A failed job. The message is one line for the crew; the command line prints it and exits with `exit_code`."""

    exit_code = 1


class UsageError(FallbookError):
    """The words of a command are off."""

    exit_code = 2
