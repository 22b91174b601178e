"""The command by which a service switches the early-warning total: what it changes, says and refuses."""

import pytest

from tests.webapp.support import SERVICE as NAME
from tests.webapp.support import House
from webapp.service import __main__ as service
from webapp.storage import create_organisation
from webapp.storage.models import Organisation
from webapp.storage.switches import SETTINGS, switch

pytestmark = pytest.mark.usefixtures("service_environment")


@pytest.fixture
def run(run_service):
    """Run the command about the early-warning total."""
    return lambda *arguments: run_service("early-warning", *arguments)


def test_it_is_off_until_a_service_switches_it_on(house: House, ann, run):
    own = ("--organisation", NAME)
    assert run(*own) == (0, f"{NAME}: the early-warning total is off.\n", "")
    done, told, _ = run("on", *own)
    assert done == 0 and told.startswith(f"{NAME}: the early-warning total is on. Phones follow")
    assert run("on", *own) == (0, f"{NAME}: the early-warning total is on.\n", "")
    assert ann.sync()["settings"] == SETTINGS | {"early_warning": True}
    assert run("off", *own)[0] == 0
    off = SETTINGS | {"early_warning": False}
    assert ann.sync()["settings"] == off
    assert ann.browser.get("/api/v1/session").json["organisation"]["settings"] == off


def test_it_is_switched_for_one_organisation_only(house: House, ann, run):
    run("on", "--organisation", "  somewhere ELSE ")
    assert house.phone("cleo").sync()["settings"] == SETTINGS | {"early_warning": True}
    assert ann.sync()["settings"] == SETTINGS | {"early_warning": False}


def test_the_only_organisation_need_not_be_named(database_url, run):
    database = service.Database(database_url)
    create_organisation(database, NAME)
    database.dispose()
    assert run("on")[1].startswith(f"{NAME}: the early-warning total is on.")


@pytest.mark.parametrize(("arguments", "said"), [
    ((), "Several could be meant."),
    (("--organisation", "Nowhere"), "There is no organisation of that name."),
])  # fmt: skip
def test_which_organisation_must_be_clear(house: House, run, arguments, said):
    done, told, wrong = run("on", *arguments)
    assert (done, told) == (1, "")
    assert wrong == f'{said} This database holds: "{NAME}", "Somewhere Else".\n'


def test_an_empty_database_is_said_to_be_empty(run):
    assert run("on") == (1, "", "There is no organisation in this database yet.\n")


def test_a_database_without_tables_changes_nothing_and_says_so(run, empty_url, monkeypatch):
    monkeypatch.setenv("LINTEL_DATABASE_URL", empty_url)
    done, told, wrong = run("on")
    assert (done, told) == (1, "") and wrong.startswith("The database could not be used (")


def test_a_missing_setting_is_named(run, monkeypatch):
    monkeypatch.delenv("LINTEL_DATABASE_URL")
    assert run("on") == (1, "", "LINTEL_DATABASE_URL is not set.\n")


@pytest.mark.parametrize("arguments", [["early-warning", "perhaps"], ["late-warning", "on"], []])
def test_what_it_does_not_know_it_refuses(arguments, capsys):
    with pytest.raises(SystemExit) as ended:
        service.main(arguments)
    assert ended.value.code == 2 and "usage: python3 -m webapp.service" in capsys.readouterr().err


def test_an_organisation_that_never_set_it_has_the_default(house: House, ann):
    with house.database.writing() as session:
        session.get_one(Organisation, house.organisation).settings = {"other": 1}
    assert ann.sync()["settings"] == SETTINGS | {"early_warning": False, "other": 1}
    switch(house.database, house.organisation, "early_warning", True)
    assert ann.sync()["settings"] == SETTINGS | {"early_warning": True, "other": 1}


def test_there_is_no_switch_of_another_name(house: House):
    with pytest.raises(ValueError, match="early_warning"):
        switch(house.database, house.organisation, "late_warning", True)


@pytest.mark.parametrize(("arguments", "said"), [
    ((), "2 records begun anew."),
    (("--organisation", NAME), f"{NAME}: the record is begun anew."),
])  # fmt: skip
def test_a_restore_gives_every_record_a_new_epoch(house: House, ann, capsys, arguments, said):
    cleo = house.phone("cleo")
    before = [phone.sync()["epoch"] for phone in (ann, cleo)]
    assert service.main(["restored", *arguments]) == 0
    assert capsys.readouterr().out.startswith(said)
    after = [phone.sync()["epoch"] for phone in (ann, cleo)]
    assert [one == other for one, other in zip(before, after, strict=True)] == [False, bool(arguments)]
