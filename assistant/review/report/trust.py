"""How far a session log can be believed, in one place: its chain, its verdicts computed again, its kept sound."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

from assistant.core.events import Heard
from assistant.core.trouble import LogTrouble
from assistant.log import Session
from assistant.review.report.results import Trust


def judge_log(
    session: Session, fault: LogTrouble | None, recomputed: bool | None, difference: str, kept: Mapping[str, bytes]
) -> Trust:
    """`fault`: what broke the chain. `kept`: the sound that lies beside the log, by SHA-256."""
    wanted = {one.event.sound for one in session.entries if isinstance(one.event, Heard) and one.event.sound}
    missing = len(wanted - kept.keys())
    changed = min(missing, len(kept.keys() - wanted))
    faults = [str(fault)] if fault else []
    if difference:
        faults.append(difference)
    if session.torn:
        faults.append("The last line is torn: the program stopped while writing it. Everything before it holds.")
    if not session.sealed:
        faults.append("The log is not sealed: the check was not finished, or its end is missing.")
    if changed:
        faults.append(f"{changed} of {len(wanted)} kept utterances are not the ones that the log names.")
    if missing > changed:
        faults.append(f"{missing - changed} of {len(wanted)} kept utterances are not beside the log.")
    return Trust(
        chain=fault is None,
        recomputed=recomputed,
        sealed=session.sealed,
        head=session.head,
        sounds_kept=len(wanted),
        sounds_missing=missing - changed,
        sounds_changed=changed,
        faults=tuple(faults),
    )


def sound_beside(folder: Path) -> dict[str, bytes]:
    """The files of kept sound in a folder, by their SHA-256; empty where there is none. Raises LogTrouble for files
    that can't be read."""
    try:
        contents = [file.read_bytes() for file in sorted(folder.glob("*.flac"))]
    except OSError as error:
        raise LogTrouble(f"The kept sound in {folder} can't be read ({error.strerror or error}).") from error
    return {hashlib.sha256(content).hexdigest(): content for content in contents}
