"""A disk that fails when it is told to: the real one, with one operation that goes wrong."""

from __future__ import annotations

import errno
import os
from pathlib import Path

from assistant.log import Disk

NO_FILE = -1


class FailingDisk(Disk):
    """A disk whose operation `at` (from 1) fails with `error`, once. A failing write still takes `taken` bytes of its
    data. Remembers what was done with each file."""

    def __init__(self, at: int, error: int = errno.EIO, taken: int = 0) -> None:
        self.at = at
        self.error = error
        self.taken = taken
        self.count = 0
        self.calls: list[tuple[str, int]] = []
        self.failed_on: int | None = None

    def _step(self, name: str, file: int = NO_FILE) -> None:
        self.calls.append((name, file))
        self.count += 1
        if self.count == self.at:
            self.failed_on = len(self.calls) - 1
            raise OSError(self.error, os.strerror(self.error))

    def create(self, path: Path) -> int:
        self._step("create")
        return super().create(path)

    def open(self, path: Path) -> int:
        self._step("open")
        return super().open(path)

    def lock(self, file: int) -> None:
        self._step("lock", file)
        super().lock(file)

    def read(self, file: int) -> bytes:
        self._step("read", file)
        return super().read(file)

    def write(self, file: int, data: bytes) -> int:
        if self.count + 1 == self.at:
            super().write(file, data[: self.taken])
        self._step("write", file)
        return super().write(file, data)

    def sync(self, file: int) -> None:
        self._step("sync", file)  # the flush itself is not what is tested here

    def sync_folder(self, folder: Path) -> None:  # noqa: ARG002
        self._step("sync folder")

    def truncate(self, file: int, size: int) -> None:
        self._step("truncate", file)
        super().truncate(file, size)

    def size(self, file: int) -> int:
        self._step("size", file)
        return super().size(file)

    def close(self, file: int) -> None:
        self.calls.append(("close", file))
        super().close(file)

    @property
    def after_failure(self) -> list[str]:
        """What was done with the file that failed, from then until it was closed."""
        assert self.failed_on is not None
        _, failed = self.calls[self.failed_on]
        later = [name for name, file in self.calls[self.failed_on + 1 :] if file == failed != NO_FILE]
        return later[: later.index("close") + 1] if "close" in later else later
