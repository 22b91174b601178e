"""Name the machine that a measurement was made on, without naming whose it is."""

import gc
import os
import platform
import subprocess
from pathlib import Path

from tests import system_programs

TICKS = os.sysconf("SC_CLK_TCK")


def describe() -> str:
    """Return processor, cores, memory, system and versions in one line."""
    versions = f"Python {platform.python_version()}, {chromium_version()}"
    return f"{processor()}, {os.cpu_count()} cores, {memory()}, {platform.system()}, {versions}"


def load() -> str:
    """Return how busy the machine was already: figures from a busy one are worth less."""
    return f"{os.getloadavg()[0]:.1f} programs wanted the processor over the last minute before it began"


def settle_down() -> None:
    """Keep what this process holds by now out of its garbage collector's way, before a clock starts.

    Looking through all that a benchmark made takes 150 ms, and comes at any moment.
    """
    gc.collect()
    gc.freeze()


def processor_seconds(processes: list[int]) -> float:
    """Return what these live processes have used; unlike the clock it hardly grows on a busy machine."""
    fields = [Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split() for each in processes]
    return sum(int(user) + int(system) for *_, user, system in (each[:13] for each in fields)) / TICKS


def children(process: int) -> list[int]:
    """Return the processes that this one started and that still live."""
    return [int(each) for each in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


def with_children(process: int) -> list[int]:
    """Return a live process and all that it started, directly or not."""
    return [process, *(each for child in children(process) for each in with_children(child))]


def peak_memory(process: int) -> int:
    """Return the most memory this live process ever held, in bytes."""
    return int(lines_of(f"/proc/{process}/status", "VmHWM")[0].split()[0]) * 1024


def processor() -> str:
    lines = lines_of("/proc/cpuinfo", "model name")
    return lines[0] if lines else platform.machine()


def memory() -> str:
    lines = lines_of("/proc/meminfo", "MemTotal")
    return f"{round(int(lines[0].split()[0]) / 1024 / 1024)} GiB memory" if lines else "memory unknown"


def lines_of(path: str, key: str) -> list[str]:
    """Return the values of `key: value` lines in a file that may not exist."""
    try:
        text = Path(path).read_text(encoding="utf-8")
    except OSError:
        return []
    return [line.partition(":")[2].strip() for line in text.splitlines() if line.startswith(key)]


def chromium_version() -> str:
    path = system_programs.chromium()
    if path is None:
        return "no Chromium"
    said = subprocess.run([path, "--version"], capture_output=True, text=True).stdout
    return " ".join(said.split()[:2])
