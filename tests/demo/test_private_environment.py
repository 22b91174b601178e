"""The first start decides rightly what to make, and says in a sentence why it cannot."""

import ast
import json
import sys
from pathlib import Path

import pytest

from demo_home_visits import private_environment as starter


@pytest.fixture
def checkout(tmp_path, monkeypatch):
    """A small checkout whose steps note themselves instead of fetching anything."""
    for name in ("static/node_modules", "static/built", ".lintel"):
        (tmp_path / name).mkdir(parents=True)
    for name in ("pyproject.toml", "static/package.json", "static/package-lock.json", "static/app.js"):
        (tmp_path / name).write_text("first")
    environment = tmp_path / ".venv"
    places = {
        "ROOT": tmp_path,
        "STATIC": tmp_path / "static",
        "ENVIRONMENT": environment,
        "WORK": tmp_path / ".lintel",
        "STAMP": environment / "lintel_stamp.json",
        "UNFINISHED": tmp_path / ".lintel" / "environment_unfinished",
        "LOG": tmp_path / ".lintel" / "setup.log",
        "PROGRAMS": environment / "bin",
        "PYTHON": environment / "bin" / "python",
    }
    for name, value in places.items():
        monkeypatch.setattr(starter, name, value)
    monkeypatch.setattr(starter.shutil, "which", lambda name, path=None: f"{path}/{name}")
    return tmp_path


@pytest.fixture
def steps(checkout, monkeypatch):
    """The list of steps that were run; each leaves behind what the real one would."""
    done = []
    leaves = dict(zip((ALL[0], *ALL[2:]), (make_bare, fetch, build), strict=True))

    def run(command, task, folder=None):
        done.append(task)
        leaves.get(task, lambda place: None)(checkout)

    monkeypatch.setattr(starter, "run", run)
    return done


def make_bare(place):
    (place / ".venv" / "bin").mkdir(parents=True, exist_ok=True)
    (place / ".venv" / "bin" / "python").write_text("")
    version = f"{sys.version_info[0]}.{sys.version_info[1]}.0"
    (place / ".venv" / "pyvenv.cfg").write_text(f"home = somewhere\nversion = {version}\n")


def fetch(place):
    (place / "static" / "node_modules" / ".package-lock.json").write_text("{}")


def build(place):
    (place / "static" / "built" / "manifest.json").write_text("{}")


ALL = [
    "making the environment",
    "installing the Python packages",
    "fetching the browser packages",
    "building the browser part",
]


def test_a_fresh_checkout_gets_everything_once(steps):
    starter.prepare(())
    assert steps == ALL
    starter.prepare(())
    assert steps == ALL


@pytest.mark.parametrize(
    ("changed", "again"),
    [
        ("pyproject.toml", ALL[1:2]),
        ("static/package-lock.json", ALL[2:]),
        ("static/app.js", ALL[3:]),
    ],
)
def test_only_what_is_stale_is_made_again(checkout, steps, changed, again):
    starter.prepare(())
    (checkout / changed).write_text("second")
    steps.clear()
    starter.prepare(())
    assert steps == again


def test_a_new_browser_file_is_a_reason_to_build(checkout, steps):
    starter.prepare(())
    (checkout / "static" / "views").mkdir()
    (checkout / "static" / "views" / "new.js").write_text("new")
    steps.clear()
    starter.prepare(())
    assert steps == ["building the browser part"]


def test_the_tests_add_their_packages_and_the_demo_keeps_them(steps):
    starter.prepare(())
    steps.clear()
    starter.prepare(("tests",))
    assert steps == ["installing the Python packages"]
    starter.prepare(())
    assert steps == ["installing the Python packages"]
    assert json.loads(starter.STAMP.read_text())["python"]["extras"] == ["tests"]


def test_an_interrupted_set_up_is_begun_afresh(checkout, steps, monkeypatch):
    def interrupted(command, task, folder=None):
        if task == "installing the Python packages":
            raise KeyboardInterrupt
        make_bare(checkout)

    with monkeypatch.context() as during:
        during.setattr(starter, "run", interrupted)
        with pytest.raises(KeyboardInterrupt):
            starter.prepare(())
    starter.prepare(())
    assert steps == ALL


def test_a_failed_install_is_tried_again_without_making_all_anew(checkout, steps, monkeypatch):
    def failing(command, task, folder=None):
        if task == "installing the Python packages":
            raise starter.SetupError("no network")
        make_bare(checkout)

    with monkeypatch.context() as during:
        during.setattr(starter, "run", failing)
        with pytest.raises(starter.SetupError):
            starter.prepare(())
    starter.prepare(())
    assert steps == ALL[1:]


def test_an_environment_of_another_python_is_made_again(checkout, steps):
    starter.prepare(())
    (checkout / ".venv" / "pyvenv.cfg").write_text("version = 3.9.1\n")
    steps.clear()
    starter.prepare(())
    assert steps[0] == "making the environment"


def test_an_environment_that_was_moved_is_made_again(checkout, steps):
    starter.prepare(())
    starter.write_stamp(place="/elsewhere")
    steps.clear()
    starter.prepare(())
    assert steps[0] == "making the environment"


def test_a_python_that_is_too_old_is_told_so_in_one_sentence(monkeypatch):
    monkeypatch.setattr(starter.sys, "version_info", (3, 9, 18))
    with pytest.raises(SystemExit) as stopped:
        starter.enter("demo_home_visits")
    assert str(stopped.value) == (
        "Lintel needs Python 3.11 or newer, and this is Python 3.9: start it with a newer one."
    )


@pytest.mark.parametrize(
    "output",
    [
        "WARNING: Retrying, NewConnectionError('Failed to establish a new connection')\nERROR: No match",
        "npm error code ENOTFOUND\nnpm error network request failed",
        "Temporary failure in name resolution",
    ],
)
def test_no_network_is_said_in_one_line(output):
    text = starter.explain("installing the Python packages", output)
    assert "could not be reached" in text and "\n" not in text


def test_another_failure_shows_the_last_words_and_where_the_rest_is():
    text = starter.explain("building the browser part", "\n".join(f"line {n}" for n in range(50)))
    assert "line 49" in text and "line 9" not in text and ".lintel/setup.log" in text


def test_what_a_program_calls_an_error_comes_before_its_trace():
    output = "\n".join(
        ["quiet start", "X [ERROR] Could not resolve './view.js'", *(f"trace {n}" for n in range(50))]
    )
    text = starter.explain("building the browser part", output)
    assert "Could not resolve" in text and "trace 49" not in text and "quiet start" not in text


def test_a_python_without_venv_names_the_package(monkeypatch):
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    assert "apt-get install python3." in starter.missing_part_of_python()
    assert starter.missing_part_of_python().endswith("-venv")


def test_a_failing_step_becomes_a_sentence(checkout):
    with pytest.raises(starter.SetupError, match="(?s)Setting up stopped at counting.*the reason"):
        starter.run([sys.executable, "-c", "raise SystemExit('the reason')"], "counting", checkout)


def test_the_file_can_be_read_by_a_python_that_is_too_old():
    source = Path(starter.__file__).read_text(encoding="utf-8")
    assert ast.parse(source, feature_version=(3, 7))
