"""What is freed goes back to the system: asked of glibc itself, in a process of its own."""

from __future__ import annotations

import platform
import subprocess
import sys

import pytest

THREADS = """
import ctypes, sys, threading
from assistant.ears.memory import give_back

give_back() if "give_back" in sys.argv else None
kept, together = [], threading.Barrier(6)

def work():
    together.wait()
    kept.extend(bytes(20_000) for _ in range(200))
    together.wait()

threads = [threading.Thread(target=work) for _ in range(6)]
for one in threads:
    one.start()
for one in threads:
    one.join()
library = ctypes.CDLL(None)
library.malloc_info(0, ctypes.c_void_p.in_dll(library, "stdout"))
library.fflush(None)
"""


def heaps(*how: str) -> int:
    told = subprocess.run([sys.executable, "-c", THREADS, *how], capture_output=True, check=True, text=True).stdout
    return told.count("<heap nr=")


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="another C library gives memory back its own way")
def test_threads_share_two_heaps() -> None:
    assert heaps("give_back") <= 2 < heaps()
