"""The commands about the audit: what they find, print and refuse."""

import json

import pytest

from tests.webapp.support import SERVICE as NAME
from tests.webapp.support import House
from tests.webapp.support_audit import rows, tamper


@pytest.fixture
def run(run_service):
    """Run a command about the audit."""
    return lambda *arguments: run_service("audit", *arguments)


def test_a_sound_audit_is_told_as_such(house: House, run):
    done, told, wrong = run("verify")
    assert (done, wrong) == (0, "")
    assert f"{NAME}: {len(rows(house))} rows, none edited, deleted or cut off." in told


def test_a_damaged_one_is_named_and_the_shell_is_told(house: House, run, tmp_path):
    kept = tmp_path / "anchor"
    done, told, _ = run("anchor")
    kept.write_text(told, "utf-8")
    assert done == 0 and run("verify", "--anchor", str(kept))[0] == 0
    [line] = [one for one in map(json.loads, told.splitlines()) if one["organisation"] == house.organisation]
    assert (line["seq"], line["hash"]) == (rows(house)[-1].seq, rows(house)[-1].hash)
    tamper(house, "DELETE FROM audit WHERE seq = 2")
    done, told, wrong = run("verify")
    assert (done, told) == (1, "") and f"{NAME}: row 2 was deleted." in wrong and "find out who" in wrong


@pytest.mark.parametrize("text", ["", "{}", "not an anchor", '{"organisation": 1, "seq": "x", "hash": ""}'])
def test_what_is_no_anchor_is_refused_in_words(house: House, run, tmp_path, text):
    (tmp_path / "anchor").write_text(text, "utf-8")
    done, _, wrong = run("verify", "--anchor", str(tmp_path / "anchor"))
    assert done == 1 and "anchor" in wrong and "Traceback" not in wrong


def test_it_shows_what_was_done_about_a_client(house: House, ann, run):
    ann.sync(ann.entry(), ann.entry())
    client = house.clients["ann1"]
    done, told, _ = run("show", "--client", client, "--organisation", NAME)
    assert done == 0 and told.splitlines()[0] == f"{NAME}: 4 rows, the newest first"
    assert f"wrote entries: by {ann.person.id}, client {client}, device {ann.device}, entries 2" in told
    assert "0 rows" in run("show", "--days", "0", "--person", client, "--organisation", NAME)[1]
