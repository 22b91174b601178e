"""What devices do about a restore and an erasure, by the Python client against the real server."""

from sync.client import Client
from tests.webapp.support import House
from tests.webapp.test_python_client import client_of, note, texts
from tests.webapp.test_python_client import url as url  # a fixture
from webapp.storage.backup import restore, write_backup
from webapp.storage.erasing import erase_client


def sync_again(client: Client) -> None:
    client.sign_in("ann@example.org", "correct horse battery")
    client.sync_all()


def test_a_device_that_held_more_than_the_backup_gives_it_back(house: House, url, tmp_path):
    phone, tablet = client_of(url), client_of(url)
    for number in range(3):
        note(phone, house, f"before {number}")
    phone.sync_all()
    write_backup(house.database, tmp_path / "one")
    for number in range(3):
        note(phone, house, f"after {number}")
    phone.sync_all()
    tablet.sync_all()
    house.database.dispose()
    restore(house.database, tmp_path / "one", None, None)
    for device in (phone, tablet):
        sync_again(device)
    assert texts(phone) == texts(tablet)
    assert set(texts(phone)) == {f"{when} {number}" for when in ("before", "after") for number in range(3)}
    assert dict(phone.state.outbox) == {}


def test_a_device_forgets_who_was_erased_and_keeps_what_it_could_not_send(house: House, url):
    phone = client_of(url)
    note(phone, house, "of the one")
    note(phone, house, "of the other", whose="ann2")
    phone.sync_all()
    late = note(phone, house, "recorded before the phone heard of it")
    with house.database.writing() as session:
        erase_client(session, house.organisation, house.clients["ann1"], "request", house.clock())
    phone.sync_all()
    phone.sync_all()
    assert texts(phone) == ["of the other"]
    assert set(phone.state.outbox) == {late} and phone.state.held[late].code == "erased"
    assert house.clients["ann1"] not in phone.state.clients
