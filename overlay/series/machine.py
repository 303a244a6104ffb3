"""What this machine has, and what processes of it take: read from /proc, as Linux keeps it."""

from __future__ import annotations

import os
import resource
import socket
from pathlib import Path

_PAGE_BYTES = resource.getpagesize()


def cores_here() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0))


def memory_here_bytes() -> int:
    """How much memory there is, or may be used by this process's control group."""
    whole = os.sysconf("SC_PHYS_PAGES") * _PAGE_BYTES
    try:
        limit = int(Path("/sys/fs/cgroup/memory.max").read_text(encoding="ascii"))
    except (OSError, ValueError):  # no such group, or "max"
        return whole
    return min(whole, limit)


def resident_bytes(pid: int) -> int:
    """How much memory a process has now; 0 of one that is gone."""
    try:
        text = Path(f"/proc/{pid}/statm").read_bytes()
        return int(text.split()[1]) * _PAGE_BYTES
    except (OSError, ValueError, IndexError):
        return 0


def peak_bytes_here() -> int:
    """The most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def started_ticks(pid: int) -> int | None:
    """When a process began, in ticks since the machine did: with its number it is one of a kind.
    None of one that is gone."""
    try:
        text = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
        return int(text.rpartition(")")[2].split()[19])
    except (OSError, ValueError, IndexError):
        return None


def host_here() -> str:
    """The name of this machine, as a part of names of files."""
    return "".join(mark if mark.isalnum() or mark == "-" else "-" for mark in socket.gethostname())
