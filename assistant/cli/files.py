"""Files that are written for a person."""

from __future__ import annotations

from pathlib import Path

from assistant.core.trouble import BadInput


def write(out: Path, text: str) -> None:
    """Raises BadInput when the file can't be written."""
    try:
        out.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise BadInput(f"Can't write {out}: {error.strerror}. Name another file with -o.") from error
