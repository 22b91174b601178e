"""What the system has to bring is installed where that is allowed, and asked for in one line elsewhere."""

import subprocess

import pytest

from tests import system_programs

ALL = ("chromium", "firefox-esr", "postgresql")


@pytest.fixture
def machine(monkeypatch):
    """A machine without browsers and PostgreSQL; what apt-get is asked to install is there afterwards."""
    installed, asked = set(), []

    def apt_get(arguments):
        asked.append(arguments)
        installed.update(each for each in arguments[1:] if not each.startswith("-"))

    packages = {"chromium": "chromium", "firefox": "firefox-esr", "postgres_folder": "postgresql"}
    for name, package in packages.items():
        look = lambda package=package: "there" if package in installed else None  # noqa: E731
        monkeypatch.setattr(system_programs, name, look)
    monkeypatch.setattr(system_programs, "apt_get", apt_get)
    return asked


def test_root_gets_all_installed(machine, monkeypatch, capsys):
    monkeypatch.setattr(system_programs, "may_install", lambda: True)
    system_programs.install_missing()
    assert machine == [["update"], ["install", "-y", "--no-install-recommends", *ALL]]
    assert capsys.readouterr().out == "Installing chromium, firefox-esr and postgresql with apt-get ...\n"
    system_programs.install_missing()
    assert len(machine) == 2


def test_anybody_else_is_told_the_one_command(machine, monkeypatch, capsys):
    monkeypatch.setattr(system_programs, "may_install", lambda: False)
    system_programs.install_missing()
    said = capsys.readouterr().out
    command = f"sudo apt-get install --no-install-recommends {' '.join(ALL)}"
    assert machine == [] and command in said


def test_a_failed_installation_shows_what_apt_get_said(monkeypatch, capsys):
    failed = subprocess.CompletedProcess([], 100, stdout="", stderr="E: no such package")
    monkeypatch.setattr(system_programs.subprocess, "run", lambda *_, **__: failed)
    system_programs.apt_get(["install", "chromium"])
    assert "E: no such package" in capsys.readouterr().err


def test_only_root_with_apt_get_may_install(monkeypatch):
    monkeypatch.setattr(system_programs.shutil, "which", lambda name: None)
    assert not system_programs.may_install()
    monkeypatch.setattr(system_programs.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(system_programs.os, "geteuid", lambda: 1000)
    assert not system_programs.may_install()
    monkeypatch.setattr(system_programs.os, "geteuid", lambda: 0)
    assert system_programs.may_install()
