"""TLS between device and service fails (F14): nothing is said to anybody else, nothing is lost."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
import trustme

from sync.errors import AnswerError
from tests.sync.real_server.gunicorn_server import PRODUCT, Gunicorn, serving
from tests.sync.real_server.spoilt_line import line_to
from tests.sync.real_server.team import Device, Team
from tests.sync.real_server.tls_line import BEHIND_TLS, HANDSHAKES, TlsLine, certificate_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
LAST_YEAR = datetime.now(UTC) - timedelta(days=365)


@pytest.fixture(scope="module")
def service(database_url: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Gunicorn]:
    """The service as it stands behind a proxy: cookies travel over TLS alone."""
    with serving(tmp_path_factory.mktemp("server"), database_url, PRODUCT, **BEHIND_TLS) as running:
        yield running


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture
def line(service: Gunicorn, authority: trustme.CA, tmp_path, monkeypatch) -> Iterator[TlsLine]:
    """The proxy; the device trusts the authority that its certificate is from."""
    trusted = tmp_path / "trusted.pem"
    authority.cert_pem.write_to_path(str(trusted))
    monkeypatch.setenv("SSL_CERT_FILE", str(trusted))
    with line_to(service.port, TlsLine, certificate_of(authority)) as made:
        yield made


@pytest.fixture
def phone(team: Team, line: TlsLine) -> Device:
    """A phone that has synced over TLS, and has a visit to send."""
    made = Device(team, line.url)
    made.visit()
    made.settle()
    made.visit()
    return made


def check_nobody_heard(team: Team, line: TlsLine, phone: Device) -> None:
    """No answer, nothing changed on either side, and not a byte of the request left the device."""
    before, rows = phone.state, team.rows()
    line.heard.clear()
    for _ in range(2):
        assert isinstance(phone.try_sync(), AnswerError)
    assert (phone.state, team.rows(), line.heard) == (before, rows, [])


def test_a_certificate_that_is_not_the_services_is_not_spoken_to(
    team: Team, line: TlsLine, phone: Device, authority: trustme.CA
):
    """F14: of somebody nobody trusts, for another name, out of date; then the right one again."""
    good = line.certificate
    over = {"not_before": LAST_YEAR, "not_after": LAST_YEAR + timedelta(days=9)}
    for wrong in (
        certificate_of(trustme.CA()),
        certificate_of(authority, "portal.example"),
        certificate_of(authority, **over),
    ):
        line.certificate = wrong
        check_nobody_heard(team, line, phone)
    line.certificate = good
    team.check_settled(phone)
    assert line.heard


@pytest.mark.parametrize("handshake", HANDSHAKES.values(), ids=HANDSHAKES)
def test_a_handshake_that_comes_to_nothing_is_no_answer(team: Team, line: TlsLine, phone: Device, handshake):
    """F14: no certificate was shown at all."""
    line.handshake = handshake
    check_nobody_heard(team, line, phone)
    line.handshake = None
    team.check_settled(phone)
