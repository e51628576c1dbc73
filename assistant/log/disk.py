"""The file operations that a session log stands on, one call each, and what their failures mean to a person.

Law: nothing here repeats a failed operation. After a failed fsync the kernel may call lost pages clean, so that a
second one would report success (Rebello et al., "Can Applications Recover from fsync Failures?", USENIX ATC 2020).
"""

from __future__ import annotations

import errno
import os
import shutil
import sys
from pathlib import Path

from assistant.core.trouble import LogTrouble

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

# Windows locks byte ranges and keeps others from reading them, so the locked byte lies where no log ever gets to.
_LOCKED_BYTE = 2**31 - 2

_MEANING = {
    errno.ENOSPC: "there is no space left on the disk; free some, or choose a folder on another disk",
    errno.EACCES: "you may not write there; choose another folder, or change its permissions",
    errno.EPERM: "you may not write there; choose another folder, or change its permissions",
    errno.EROFS: "the disk is read-only; choose a folder on another disk",
    errno.ENOENT: "the folder or file is not there (any more); choose another one",
    errno.ENOTDIR: "a part of the path is a file, not a folder; choose another folder",
    errno.EISDIR: "it is a folder, not a file; name the log file inside it",
    errno.EEXIST: "a file of that name is there already; choose another name",
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
    errno.EIO: "the disk reports an error; choose a folder on another disk",
}
if hasattr(errno, "EDQUOT"):
    _MEANING[errno.EDQUOT] = "your share of the disk is used up; free some space, or choose a folder on another disk"


def trouble(what: str, path: Path, error: OSError) -> LogTrouble:
    """What went wrong with a log file, in a sentence that says what to do."""
    known = _MEANING.get(error.errno or 0)
    meaning = known or f"{error.strerror or error}; choose a folder on another disk"
    return LogTrouble(f"{what} {path}: {meaning}.")


class Disk:
    """The real disk. Every method raises OSError when the operation fails."""

    def make_folder(self, folder: Path) -> None:
        """Make the folder and what is missing above it, each name made durable in the folder that holds it."""
        if folder.is_dir():
            return
        self.make_folder(folder.parent)
        folder.mkdir(mode=0o700, exist_ok=True)
        self.sync_folder(folder.parent)

    def free(self, folder: Path) -> int:
        """Bytes that can still be written there."""
        return shutil.disk_usage(folder).free

    def create(self, path: Path) -> int:
        """A descriptor of a new file that only its owner can read. The name must be free."""
        return os.open(path, os.O_CREAT | os.O_EXCL | os.O_APPEND | os.O_RDWR | getattr(os, "O_BINARY", 0), 0o600)

    def open(self, path: Path) -> int:
        """A descriptor to read an existing file and to append to it."""
        return os.open(path, os.O_APPEND | os.O_RDWR | getattr(os, "O_BINARY", 0))

    def lock(self, file: int) -> None:
        """Make this descriptor the only writer until it is closed. Raises BlockingIOError when there is another one."""
        if sys.platform == "win32":
            os.lseek(file, _LOCKED_BYTE, os.SEEK_SET)
            try:
                msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
            except PermissionError as error:
                raise BlockingIOError(errno.EAGAIN, "locked") from error
        else:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def read(self, file: int) -> bytes:
        """The whole file."""
        os.lseek(file, 0, os.SEEK_SET)
        with open(file, "rb", closefd=False) as stream:
            return stream.read()

    def write(self, file: int, data: bytes) -> int:
        """Append in one system call; the number of bytes that were taken, which can be fewer."""
        return os.write(file, data)

    def sync(self, file: int) -> None:
        """Bring the file to the disk itself. On macOS fsync stops at the drive's cache; F_FULLFSYNC does not."""
        if sys.platform == "darwin":
            try:
                fcntl.fcntl(file, fcntl.F_FULLFSYNC)
            except OSError as error:  # file systems without it say so; that is no failed flush
                if error.errno not in (errno.ENOTSUP, errno.EINVAL, errno.ENOTTY):
                    raise
                os.fsync(file)
        else:
            os.fsync(file)

    def sync_folder(self, folder: Path) -> None:
        """Make the names in a folder durable. Windows has no such call, and some file systems refuse it."""
        if sys.platform == "win32":
            return
        file = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(file)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):
                raise
        finally:
            os.close(file)

    def truncate(self, file: int, size: int) -> None:
        os.ftruncate(file, size)

    def size(self, file: int) -> int:
        """Bytes in the file. Raises FileNotFoundError when its last name is gone: what is written is then lost."""
        state = os.fstat(file)
        if state.st_nlink == 0:
            raise FileNotFoundError(errno.ENOENT, "removed")
        return state.st_size

    def close(self, file: int) -> None:
        """Give up the lock, which a forked child process would else go on holding, and the descriptor."""
        if sys.platform != "win32":
            fcntl.flock(file, fcntl.LOCK_UN)
        os.close(file)


def write_through(disk: Disk, file: int, data: bytes) -> None:
    """Append all of `data` and bring it to the disk; short writes go on where they stopped. Raises OSError."""
    rest = memoryview(data)
    while rest:
        taken = disk.write(file, bytes(rest))
        if taken <= 0:
            raise OSError(errno.EIO, "nothing was written")
        rest = rest[taken:]
    disk.sync(file)
