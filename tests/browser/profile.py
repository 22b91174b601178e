"""A browser with a profile on disk, which a test may kill as a dying phone would and open again."""

import contextlib
import os
import signal
import time
from pathlib import Path

from playwright.sync_api import BrowserContext, Error, Playwright

from tests.browser.support import CHROMIUM_ARGUMENTS, PHONE, chromium_path
from tests.browser.unlocking import keep_unlocked
from tests.browser.watch import Watch

GONE_LIMIT_SECONDS = 60


class Profile:
    """One browser profile folder; `open` gives a context, `kill` ends every process of that browser."""

    def __init__(self, driver: Playwright, folder: Path, watch: Watch) -> None:
        self.driver, self.folder, self.watch = driver, folder, watch
        self.context: BrowserContext | None = None

    def open(self, unlocks: bool = True, **options) -> BrowserContext:
        """Start the browser on this profile, as a phone that deals with lock screens by itself, or not."""
        self.context = self.driver.chromium.launch_persistent_context(
            str(self.folder),
            executable_path=chromium_path(),
            args=CHROMIUM_ARGUMENTS,
            **{**PHONE, **options},
        )
        self.watch.over(self.context)
        if unlocks:
            keep_unlocked(self.context)
        return self.context

    def kill(self) -> int:
        """SIGKILL every process of this browser at once; return how many there were."""
        found = self.processes()
        for process in found:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        self.wait_until_gone()
        self.close()
        return len(found)

    def close(self) -> None:
        """Close the browser; of a killed one, only what Playwright still holds."""
        if self.context is not None:
            with contextlib.suppress(Error):
                self.context.close()
            self.context = None

    def processes(self) -> list[int]:
        """Return the browser's processes: those that name the profile folder, and their descendants."""
        parents, found = parents_by_process(), set()
        for process in parents:
            if f"--user-data-dir={self.folder}" in command_line(process):
                found.add(process)
        while more := {child for child, parent in parents.items() if parent in found} - found:
            found |= more
        return sorted(found)

    def wait_until_gone(self) -> None:
        deadline = time.monotonic() + GONE_LIMIT_SECONDS
        while self.processes():
            if time.monotonic() > deadline:
                raise RuntimeError("The killed browser is still running.")
            time.sleep(0.02)


def parents_by_process() -> dict[int, int]:
    """Return process -> parent for every live process (Linux only; zombies are not live)."""
    parents = {}
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            state, parent = (folder / "stat").read_text().rpartition(")")[2].split()[:2]
            if state != "Z":
                parents[int(folder.name)] = int(parent)
    return parents


def command_line(process: int) -> str:
    with contextlib.suppress(OSError):
        return Path(f"/proc/{process}/cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
    return ""
