"""What the system has to bring is installed where that is allowed, and asked for in one line elsewhere."""

import subprocess

import pytest

from tests import system_programs


@pytest.fixture
def machine(monkeypatch):
    """A machine without Chromium and PostgreSQL; what apt-get is asked to install is there afterwards."""
    installed, asked = set(), []

    def apt_get(arguments):
        asked.append(arguments)
        installed.update(each for each in arguments[1:] if not each.startswith("-"))

    monkeypatch.setattr(system_programs, "chromium", lambda: "there" if "chromium" in installed else None)
    monkeypatch.setattr(
        system_programs, "postgres_folder", lambda: "there" if "postgresql" in installed else None
    )
    monkeypatch.setattr(system_programs, "apt_get", apt_get)
    return asked


def test_root_gets_both_installed(machine, monkeypatch, capsys):
    monkeypatch.setattr(system_programs, "may_install", lambda: True)
    system_programs.install_missing()
    assert machine == [["update"], ["install", "-y", "--no-install-recommends", "chromium", "postgresql"]]
    assert capsys.readouterr().out == "Installing chromium and postgresql with apt-get ...\n"
    system_programs.install_missing()
    assert len(machine) == 2


def test_anybody_else_is_told_the_one_command(machine, monkeypatch, capsys):
    monkeypatch.setattr(system_programs, "may_install", lambda: False)
    system_programs.install_missing()
    said = capsys.readouterr().out
    assert machine == [] and "sudo apt-get install --no-install-recommends chromium postgresql" in said


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
