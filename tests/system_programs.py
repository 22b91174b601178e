"""Programs the tests need from the operating system: browsers and PostgreSQL. Standard library only."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
POSTGRES_FOLDERS = "/usr/lib/postgresql/*/bin"


def chromium() -> str | None:
    """Return the path of a Chromium, or None."""
    return next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)


def firefox() -> str | None:
    """Return the path of a Firefox ESR, or None."""
    return shutil.which("firefox-esr")


def postgres_folder() -> Path | None:
    """Return the folder with initdb and pg_ctl of the newest PostgreSQL, or None."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    found = [path for path in Path("/").glob(POSTGRES_FOLDERS[1:]) if (path / "initdb").exists()]
    return max(found, key=lambda path: float(path.parent.name), default=None)


def missing_packages() -> list[str]:
    """Return the Debian packages that would bring what is missing."""
    wanted = {"chromium": chromium(), "firefox-esr": firefox(), "postgresql": postgres_folder()}
    return [package for package, found in wanted.items() if found is None]


def install_missing() -> None:
    """Install what is missing where that is allowed; otherwise say the one command that does it."""
    packages = missing_packages()
    if not packages:
        return
    if may_install():
        print(f"Installing {listed(packages)} with apt-get ...", flush=True)
        apt_get(["update"])
        apt_get(["install", "-y", "--no-install-recommends", *packages])
    left = missing_packages()
    if left:
        print(f"The tests that need {listed(left)} cannot run. On Debian or Ubuntu, install with:")
        print(f"  sudo apt-get install --no-install-recommends {' '.join(left)}", flush=True)


def listed(words: list[str]) -> str:
    """Return words as a sentence lists them."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def may_install() -> bool:
    """True for root on a machine with apt-get."""
    return shutil.which("apt-get") is not None and hasattr(os, "geteuid") and os.geteuid() == 0


def apt_get(arguments: list[str]) -> None:
    """Run apt-get without questions; on failure show what it said."""
    variables = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    done = subprocess.run(["apt-get", "-q", *arguments], env=variables, capture_output=True, text=True)
    if done.returncode != 0:
        print(done.stderr.strip() or done.stdout.strip()[-2000:], file=sys.stderr)
