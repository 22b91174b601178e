"""Attack cases about exports and pictures: there are none, and these tests fail when there are.

Whoever adds a download or an upload finds here which attacks it has to answer: formulas in the cells of a
table (22), a client's name in a header (24), pictures that are something else, too large, or that tell where
they were taken (25 to 27).
"""

import io
import zlib
from pathlib import Path

import pytest

from tests.databases import copy_of
from tests.webapp.support import House, Phone

TABLES = ("text/csv", "spreadsheet", "ms-excel", "tab-separated", "application/pdf", "application/zip")
# Of 1 x 1 pixel, with a script behind its end.
PICTURE = b"GIF89a\x01\x00\x01\x00\x00\x00\x00;<script>alert(1)</script>"
# A picture of 65,535 x 65,535 pixels in a few bytes, as a PNG's first chunk tells it.
HUGE = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\xff\xff\x00\x00\xff\xff\x08\x02\x00\x00\x00"
PLACE = b"\xff\xd8\xff\xe1\x00\x20Exif\x00\x00GPSLatitude 51.5"


@pytest.fixture
def database_url(sqlite_template: Path, tmp_path: Path) -> str:
    """A database whose files can be searched."""
    return copy_of(sqlite_template, tmp_path)


@pytest.fixture
def ann(house: House) -> Phone:
    return house.phone("ann")


def plain_addresses(house: House) -> list[str]:
    """Every address without a part to fill in that can be fetched."""
    return sorted(
        rule.rule
        for rule in house.app.url_map.iter_rules()
        if "GET" in (rule.methods or ()) and not rule.arguments
    )


def test_cases_22_and_24_nothing_is_handed_out_as_a_file(house: House, ann: Phone):
    addresses = plain_addresses(house)
    assert len(addresses) > 10
    for address in addresses:
        answer = ann.browser.get(address)
        told = answer.headers.get("Content-Type", "")
        assert "attachment" not in answer.headers.get("Content-Disposition", ""), address
        assert not any(kind in told for kind in TABLES), address
        answer.close()


@pytest.mark.parametrize("picture", [PICTURE, HUGE + zlib.compress(b"\0" * 10_000), PLACE], ids=len)
def test_cases_25_to_27_no_address_keeps_a_picture(house: House, ann: Phone, picture: bytes, tmp_path: Path):
    posted = sorted(
        rule.rule
        for rule in house.app.url_map.iter_rules()
        if "POST" in (rule.methods or ()) and not rule.arguments and not rule.rule.startswith("/sign-out")
    )
    assert len(posted) > 10
    for address in posted:
        form = {"csrf_token": ann.form_token(), "picture": (io.BytesIO(picture), "picture.png", "image/png")}
        answer = ann.browser.post(address, data=form, headers={"X-CSRFToken": ann.csrf})
        assert answer.status_code < 500 and picture[:8] not in answer.data, address
    kept = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert b"SQLite format 3" in kept
    assert picture[:16] not in kept
