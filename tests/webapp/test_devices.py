"""What the server knows of a device: a loss on it must show, and a late message must not hide one."""

from tests.webapp.support import House
from webapp.storage.devices import missing_numbers
from webapp.storage.models import Device


def told(house: House, phone) -> tuple[int, int]:
    with house.database.reading() as session:
        device = session.get_one(Device, (house.organisation, phone.person.id, phone.device))
        return device.unsent, device.last_device_seq


def missing(house: House, phone) -> list[int]:
    with house.database.reading() as session:
        return missing_numbers(session, phone.person, phone.device)


def test_an_older_message_that_comes_late_takes_nothing_back(house: House, ann):
    ann.sync(unsent=3, last_device_seq=9)
    ann.sync(unsent=1, last_device_seq=4)
    assert told(house, ann) == (3, 9)
    ann.sync(unsent=0, last_device_seq=9)
    assert told(house, ann) == (0, 9)


def test_the_numbers_that_never_came_are_named(house: House, ann):
    first, _lost, third = (ann.entry() for _ in range(3))
    held = ann.entry(body={"fields": {}})
    ann.sync(first, third, held, unsent=1)
    assert missing(house, ann) == [2, 4]


def test_nothing_is_missing_of_a_device_never_heard_of(house: House, ann):
    assert missing(house, ann) == []
    other = house.phone("ben")
    other.device = ann.device
    ann.sync(ann.entry())
    other.sync(last_device_seq=2)
    # The same number of another person's on the same device is another device here.
    assert (missing(house, ann), missing(house, other)) == ([], [1, 2])
