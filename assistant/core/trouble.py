"""Trouble: anything that stops the program and that a person can do something about.

Law: the message is one or two plain sentences, what is wrong and then what to do; it is all a user ever sees of it.
"""

from __future__ import annotations


class Trouble(Exception):
    """Raised by every room; the command line prints the message and leaves with `exit_code`.

    Exit codes: 1 the check or a log did not hold, 2 wrong use, 3 something is missing (model, network, device),
    4 an input file can't be used, 5 the log can't be written.
    """

    exit_code = 2


class Missing(Trouble):
    """Something that has to be installed, fetched or plugged in first."""

    exit_code = 3


class BadInput(Trouble):
    """A file that was given can't be used."""

    exit_code = 4


class LogTrouble(Trouble):
    """A session log can't be read, continued or written."""

    exit_code = 5
