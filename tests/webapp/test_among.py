"""A condition over many values that come as one parameter: what it finds, and by which index."""

import pytest
from sqlalchemy import select

from tests.webapp.support import House
from webapp.storage.among import among
from webapp.storage.models import Entry

NOBODYS = "00000000-0000-7000-8000-00000000dead"
# A UUID, a number and a text: each is kept in a way of its own.
COLUMNS = ["id", "device_seq", "hash"]


@pytest.fixture
def stored(house: House) -> list[Entry]:
    phone = house.phone("ann")
    phone.sync(phone.entry(), phone.entry(), phone.entry())
    with house.database.reading() as session:
        return list(session.scalars(select(Entry).order_by(Entry.seq)))


@pytest.mark.parametrize("name", COLUMNS)
def test_what_is_among_them_is_found(house: House, stored, name):
    column = getattr(Entry, name)
    query = select(Entry.id).where(among(column, "wanted")).order_by(Entry.seq)
    two = [getattr(each, name) for each in stored[1:]]
    with house.database.reading() as session:
        assert list(session.scalars(query, {"wanted": two})) == [each.id for each in stored[1:]]
        assert list(session.scalars(query, {"wanted": set()})) == []


def test_what_is_not_among_them_is_not(house: House, stored):
    query = select(Entry.id).where(among(Entry.id, "wanted"))
    with house.database.reading() as session:
        assert list(session.scalars(query, {"wanted": [NOBODYS, stored[0].id]})) == [stored[0].id]
        rest = set(session.scalars(select(Entry.id).where(~among(Entry.id, "wanted")), {"wanted": [NOBODYS]}))
    assert rest == {each.id for each in stored}


def test_the_index_is_used_for_it(house: House):
    """Without, a batch would be looked up by going through the whole log of an organisation."""
    if house.database.engine.dialect.name != "sqlite":
        pytest.skip("PostgreSQL chooses by the size of a table, and tables of a test are small")
    own = Entry.organisation_id == house.organisation
    query = select(Entry.seq).where(own, among(Entry.id, "wanted"))
    made = str(query.compile(house.database.engine))
    with house.database.reading() as session:
        plan = session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {made}", ("", "[]")).all()
    assert any("(organisation_id=? AND id=?)" in step.detail for step in plan), plan
