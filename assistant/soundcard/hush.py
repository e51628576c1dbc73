"""Keeps the C libraries' own lines off the screen.

PortAudio and the sound drivers print on standard error when a device goes or can't be opened; what a user needs to know
of it is told by the program itself.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """While it lasts, file descriptor 2 leads nowhere; what Python prints on sys.stderr still arrives."""
    try:
        kept = os.dup(2)
    except OSError:  # there is no standard error, so nothing can spoil it
        yield
        return
    before = sys.stderr
    with open(os.devnull, "wb") as away, open(kept, "w", buffering=1, errors="backslashreplace", closefd=False) as own:
        os.dup2(away.fileno(), 2)
        if before is not None and _writes_to_2(before):
            sys.stderr = own
        try:
            yield
        finally:
            sys.stderr = before
            os.dup2(kept, 2)
            os.close(kept)


def _writes_to_2(stream: object) -> bool:
    try:
        return stream.fileno() == 2  # type: ignore[attr-defined, no-any-return]
    except (AttributeError, OSError, ValueError):
        return False
