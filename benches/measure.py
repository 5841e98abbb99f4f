"""Wall time, processor time and peak memory of a finished process. Linux, as it reads the child's own figures."""

from __future__ import annotations

import os
import time
from typing import NamedTuple


class Cost(NamedTuple):
    """What one process took."""

    wall_s: float
    cpu_s: float
    memory_mib: float


def cost(command: list[str], allowed: tuple[int, ...] = (0,)) -> Cost:
    """Runs a command with its output thrown away; ends the script where the exit code is not an allowed one."""
    begin = time.perf_counter()
    pid = os.fork()
    if pid == 0:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        os.execv(command[0], command)
    _, status, usage = os.wait4(pid, 0)
    if os.waitstatus_to_exitcode(status) not in allowed:
        raise SystemExit(f"failed: {' '.join(command)}")
    wall = time.perf_counter() - begin
    return Cost(wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)
