"""The commands about accounts, teams and caseloads."""

import pytest

from tests.webapp.support import House

NOBODY = "00000000-0000-4000-8000-000000000000"
pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def test_an_account_is_made_closed_and_opened_again(house: House, run):
    done, told, _ = run("account", "Noor@example.org", "Noor Abelard", "lead")
    assert done == 0
    passphrase = told.split("shown only now: ")[1].strip()
    house.people["noor"] = house.people["ann"]
    noor = house.phone("noor", sign_in=False)
    assert noor.sign_in(password=passphrase).status_code == 302
    assert "noor@example.org  Noor Abelard, lead\n" in run("people")[1]
    assert run("person", "close", "NOOR@example.org")[0] == 0
    assert noor.browser.get("/api/v1/session").status_code == 401
    assert "Noor Abelard, lead, closed" in run("people")[1]
    assert run("person", "reopen", "noor@example.org")[0] == 0
    assert noor.sign_in(password=passphrase).status_code == 302
    assert run("person", "sign-out", "noor@example.org")[0] == 0
    assert noor.browser.get("/api/v1/session").status_code == 401


def test_a_team_and_a_caseload(house: House, run):
    run("account", "noor@example.org", "Noor Abelard", "lead")
    assert run("team", "make", "North")[0] == run("team", "put", "North", "ann@example.org")[0] == 0
    assert run("team", "put", "North", "noor@example.org", "--lead")[0] == 0
    assert run("team", "list")[1] == "North: Noor Abelard (lead), Ann Example\n"
    assert run("team", "take", "North", "ann@example.org")[0] == 0
    assert run("team", "list")[1] == "North: Noor Abelard (lead)\n"
    client = house.clients["ann1"]
    assert run("caseload", "put", "ben@example.org", client)[0] == 0
    assert client in run("caseload", "list", "ben@example.org")[1]
    assert run("caseload", "take", "ben@example.org", client)[0] == 0
    assert client not in run("caseload", "list", "ben@example.org")[1]


@pytest.mark.parametrize(("arguments", "said"), [
    (("account", "ann@example.org", "X", "lead"), "This sign-in name cannot be used"),
    (("person", "close", "nobody@example.org"), "There is nobody with the sign-in name"),
    (("person", "close", "cleo@example.org"), "There is nobody with the sign-in name"),
    (("team", "make"), "Name the team"),
    (("team", "put", "South", "ann@example.org"), 'There is no team "South"'),
    (("caseload", "put", "ben@example.org"), "Give the client's number"),
    (("caseload", "put", "ben@example.org", "12"), "Give the client's number"),
    (("caseload", "put", "ben@example.org", NOBODY), "There is no such client"),
])  # fmt: skip
def test_what_cannot_be_done_is_said_in_words(house: House, run, arguments, said):
    done, told, wrong = run(*arguments)
    assert (done, told) == (1, "") and wrong.startswith(said)
