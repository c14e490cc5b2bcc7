"""The warmed process's memory in large pages: the same bytes, and fewer pages to copy at each fork."""

from __future__ import annotations

import ctypes
import mmap
import re
from pathlib import Path

import pytest

from instructor.run.zygote.pages import LARGE, MADV_COLLAPSE, gather_pages, libc


def large_kib() -> int:
    """This process's own memory in large pages, KiB."""
    (found,) = re.findall(r"^AnonHugePages: +(\d+) kB", Path("/proc/self/smaps_rollup").read_text(), re.M)
    return int(found)


def filled(size: int) -> mmap.mmap:
    """Memory of this process alone, in small pages, each with something of its own in it."""
    memory = mmap.mmap(-1, size, flags=mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
    for at in range(0, size, mmap.PAGESIZE):
        memory[at : at + 8] = at.to_bytes(8, "little")
    return memory


def kernel_can() -> bool:
    probe = filled(2 * LARGE)
    start = -(-ctypes.addressof(ctypes.c_char.from_buffer(probe)) // LARGE) * LARGE
    return libc.madvise(ctypes.c_void_p(start), ctypes.c_size_t(LARGE), MADV_COLLAPSE) == 0


def test_memory_keeps_its_bytes_and_moves_into_large_pages():
    if not kernel_can():
        pytest.skip("this kernel does not gather pages when it is asked (Linux 6.1 and newer do)")
    size = 16 * LARGE
    memory, before = filled(size), large_kib()
    gather_pages()
    assert large_kib() - before >= (size - 2 * LARGE) // 1024
    assert all(int.from_bytes(memory[at : at + 8], "little") == at for at in range(0, size, mmap.PAGESIZE))
