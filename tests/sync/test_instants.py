"""Moments as text: one form each way."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from sync.instants import read_instant, write_instant


def test_a_moment_is_cut_to_milliseconds_in_utc():
    east = timezone(timedelta(hours=5, minutes=45))
    assert write_instant(datetime(2026, 11, 25, 1, 2, 3, 999_999, east)) == "2026-11-24T19:17:03.999Z"
    assert write_instant(datetime(2026, 11, 25, 1, 2, 3, 0, UTC)) == "2026-11-25T01:02:03.000Z"


def test_what_is_written_is_read_again():
    moment = datetime(1970, 1, 1, 23, 59, 59, 1000, UTC)
    assert read_instant(write_instant(moment)) == moment


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-25T24:00:00.000Z",
        "2026-11-25T09:60:00.000Z",
        "2026-11-25T09:00:60.000Z",
        "2026-02-30T09:00:00.000Z",
        "2026-11-25T09:00:00Z",
        "2026-11-25T09:00:00.0000Z",
        "2026-11-25 09:00:00.000Z",
        "2026-11-25T09:00:00.000+00:00",
        "20261125T090000.000Z",
        "2026-11-25T09:00:00.000Z\n",
        "٢٠٢٦-11-25T09:00:00.000Z",
    ],
)
def test_any_other_form_is_none(text):
    with pytest.raises(ValueError):
        read_instant(text)
