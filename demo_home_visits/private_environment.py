"""Give the checkout its own Python environment and browser packages. Standard library only.

Plain old syntax on purpose: a Python that is too old must still be able to read this file and say so.
"""

import contextlib
import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from demo_home_visits.setup_words import explain

ROOT = Path(__file__).resolve().parent.parent
STATIC = ROOT / "static"
ENVIRONMENT = ROOT / ".venv"
WORK = ROOT / ".lintel"
STAMP = ENVIRONMENT / "lintel_stamp.json"
UNFINISHED = WORK / "environment_unfinished"
LOG = WORK / "setup.log"
PROGRAMS = ENVIRONMENT / ("Scripts" if os.name == "nt" else "bin")
PYTHON = PROGRAMS / ("python.exe" if os.name == "nt" else "python")
OLDEST_PYTHON = (3, 11)
NOT_BUILD_INPUTS = {"node_modules", "built"}


class SetupError(Exception):
    """Setting up cannot go on; the text is the whole explanation a person needs."""


def enter(module: str, extras: tuple = ()) -> None:
    """Run `module` inside the checkout's own environment, making or refreshing that first if needed."""
    try:
        refuse_old_python()
        prepare(extras)
    except SetupError as problem:
        sys.exit(str(problem))
    except KeyboardInterrupt:
        sys.exit("\nStopped. Run the same command again to go on.")
    put_programs_on_path()
    if Path(sys.prefix).resolve() != ENVIRONMENT.resolve():
        run_again_inside(module)


def refuse_old_python() -> None:
    if sys.version_info < OLDEST_PYTHON:
        raise SetupError(
            f"Lintel needs Python {dotted(OLDEST_PYTHON)} or newer, and this is Python "
            f"{dotted(sys.version_info)}: start it with a newer one."
        )


def dotted(version) -> str:
    return ".".join(str(part) for part in version[:2])


def prepare(extras: tuple) -> None:
    """Bring environment, browser packages and browser build up to date, doing only what is stale."""
    if is_ready(extras):
        return
    WORK.mkdir(exist_ok=True)
    with only_one_at_a_time():
        LOG.write_text("", encoding="utf-8")
        started = read_stamp()
        if not is_usable(started):
            make_environment()
        if not has_packages(started, extras):
            install_python_packages(started, extras)
        if not has_browser_packages(started):
            install_browser_packages()
        if not has_browser_build(started):
            build_browser_part()


def is_ready(extras):
    stamp = read_stamp()
    return (
        is_usable(stamp)
        and has_packages(stamp, extras)
        and has_browser_packages(stamp)
        and has_browser_build(stamp)
    )


def is_usable(stamp):
    """True for a whole environment of this Python in this place; programs in it carry both in their text."""
    if UNFINISHED.exists() or not PYTHON.exists():
        return False
    if stamp.get("place", str(ROOT)) != str(ROOT):
        return False
    return environment_version() == list(sys.version_info[:2])


def environment_version():
    """Return [major, minor] of the Python that made the environment, or [] when that cannot be read."""
    try:
        lines = (ENVIRONMENT / "pyvenv.cfg").read_text(encoding="utf-8").splitlines()
    except OSError:
        return []
    pairs = [line.partition("=") for line in lines]
    versions = [value.strip() for key, _, value in pairs if key.strip() == "version"]
    return [int(part) for part in versions[0].split(".")[:2]] if versions else []


def has_packages(stamp, extras):
    python = stamp.get("python", {})
    return python.get("hash") == python_hash() and set(extras) <= set(python.get("extras", ()))


def has_browser_packages(stamp):
    installed = (STATIC / "node_modules" / ".package-lock.json").exists()
    return installed and stamp.get("browser_packages") == browser_packages_hash()


def has_browser_build(stamp):
    built = (STATIC / "built" / "manifest.json").exists()
    return built and stamp.get("browser_build") == browser_build_hash()


def make_environment():
    """Make an empty environment, over whatever an interrupted or older set-up left behind."""
    missing = missing_part_of_python()
    if missing:
        raise SetupError(missing)
    again = " again" if ENVIRONMENT.exists() else ""
    say(f"Making the environment in .venv{again} (Python {dotted(sys.version_info)})")
    mark_unfinished()
    # From inside the environment, sys.executable would be a program that --clear is about to delete.
    base = getattr(sys, "_base_executable", sys.executable)
    run([base, "-m", "venv", "--clear", str(ENVIRONMENT)], "making the environment")
    UNFINISHED.unlink()


def missing_part_of_python():
    """Return a sentence when this Python cannot make environments (Debian packs that part separately)."""
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError:
        return (
            "This Python cannot make environments because its 'venv' part is missing. "
            f"On Debian or Ubuntu: apt-get install python{dotted(sys.version_info)}-venv"
        )
    return ""


def install_python_packages(stamp, extras):
    wanted = sorted(set(extras) | set(stamp.get("python", {}).get("extras", ())))
    say("Installing the Python packages (the first time takes a minute or two)")
    # A killed pip leaves packages that look installed; the mark makes the next start begin afresh.
    mark_unfinished()
    pip = [str(PYTHON), "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "--retries", "1"]
    try:
        run(pip + ["-e", f".[{','.join(wanted)}]" if wanted else "."], "installing the Python packages")
    except SetupError:
        UNFINISHED.unlink()  # pip ended by itself and has tidied up
        raise
    write_stamp(place=str(ROOT), python={"hash": python_hash(), "extras": wanted})
    UNFINISHED.unlink()


def mark_unfinished():
    UNFINISHED.write_text("A set-up began and has not ended.\n", encoding="utf-8")


def install_browser_packages():
    say("Fetching the browser packages")
    npm = shutil.which("npm", path=str(PROGRAMS))
    if npm is None:
        raise SetupError("The environment has no npm. Delete .venv and run the same command again.")
    run([npm, "ci", "--no-audit", "--no-fund", "--fetch-retries=1"], "fetching the browser packages", STATIC)
    write_stamp(browser_packages=browser_packages_hash())


def build_browser_part():
    say("Building the browser part")
    inputs = browser_build_hash()
    node = shutil.which("node", path=str(PROGRAMS)) or "node"
    run([node, str(STATIC / "build.mjs")], "building the browser part")
    write_stamp(browser_build=inputs)


def run(command, task, folder=ROOT):
    """Run one step with its output in the log, and turn a failure into a sentence."""
    with LOG.open("a+", encoding="utf-8", errors="replace") as log:
        start = log.seek(0, os.SEEK_END)
        done = subprocess.run(
            command, cwd=str(folder), env=inside_variables(), stdin=subprocess.DEVNULL, stdout=log, stderr=log
        )
        if done.returncode != 0:
            log.seek(start)
            raise SetupError(explain(task, log.read()))


def inside_variables():
    """Return the process environment with the checkout's own programs first on the path."""
    inside = dict(os.environ)
    inside["PATH"] = str(PROGRAMS) + os.pathsep + inside.get("PATH", os.defpath)
    inside["VIRTUAL_ENV"] = str(ENVIRONMENT)
    inside.pop("PYTHONHOME", None)
    return inside


def put_programs_on_path():
    os.environ.update(inside_variables())


def run_again_inside(module):
    """Replace this process by the same module inside the environment; its exit code becomes ours."""
    command = [str(PYTHON), "-m", module] + sys.argv[1:]
    if os.name == "nt":
        # Windows has no real exec: the caller would get its prompt back while the program still runs.
        sys.exit(subprocess.run(command, cwd=str(ROOT)).returncode)
    sys.stdout.flush()
    os.chdir(str(ROOT))
    os.execv(command[0], command)


def python_hash():
    return hash_files([ROOT / "pyproject.toml"])


def browser_packages_hash():
    return hash_files([STATIC / "package.json", STATIC / "package-lock.json"])


def browser_build_hash():
    return hash_files(build_inputs()) + browser_packages_hash()[:8]


def build_inputs():
    """Return every file the browser build may read, sorted, so that the same tree gives the same hash."""
    found = []
    for folder, folders, files in os.walk(str(STATIC)):
        folders[:] = sorted(name for name in folders if name not in NOT_BUILD_INPUTS)
        found += [Path(folder) / name for name in sorted(files)]
    return found


def hash_files(paths):
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def read_stamp():
    """Return what finished set-up steps have noted, {} when there is nothing readable."""
    try:
        return json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}


def write_stamp(**finished):
    """Note finished steps; written beside and renamed, so that a stamp is whole or absent."""
    stamp = dict(read_stamp(), **finished)
    beside = STAMP.with_suffix(".new")
    beside.write_text(json.dumps(stamp, indent=1) + "\n", encoding="utf-8")
    os.replace(str(beside), str(STAMP))


@contextlib.contextmanager
def only_one_at_a_time():
    """Hold the checkout's set-up lock, so that two commands started together do not build over each other."""
    try:
        import fcntl
    except ImportError:  # Windows has no flock; two set-ups at once are left to the person there
        yield
        return
    with (WORK / "setup.lock").open("w", encoding="utf-8") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def say(text):
    print(text + " ...", flush=True)
