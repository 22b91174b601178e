"""TLS between Chromium and the service fails: fault 14."""

import base64
import hashlib
import ssl
from collections.abc import Iterator

import pytest
import trustme
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from cryptography.x509 import load_pem_x509_certificate

from tests.browser.engine_bench import open_controlled, submit
from tests.browser.kept import check_all_there, check_kept, save, sync
from tests.browser.support import CHROMIUM_ARGUMENTS, chromium_path
from tests.browser.workers import Workers, working_on
from tests.sync.real_server.spoilt_line import line_to
from tests.sync.real_server.tls_line import BEHIND_TLS, HANDSHAKES, HOST, TlsLine, certificate_of

PRINTED = r"net::ERR_(CERT_|SSL_|CONNECTION_|EMPTY_RESPONSE)"


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workers]:
    """The bench as it stands behind a proxy: cookies travel over TLS alone."""
    folder = tmp_path_factory.mktemp("service")
    with working_on(folder, f"sqlite:///{folder / 'lintel.sqlite3'}", **BEHIND_TLS) as running:
        running.begin()
        yield running


@pytest.fixture(scope="module")
def certificate() -> trustme.LeafCert:
    return trustme.CA().issue_cert(HOST)


@pytest.fixture
def browser(driver, certificate):
    """Chromium that takes the service's key, and no other that nobody vouches for."""
    found = load_pem_x509_certificate(certificate.cert_chain_pems[0].bytes()).public_key()
    key = hashlib.sha256(found.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).digest()
    taken = f"--ignore-certificate-errors-spki-list={base64.b64encode(key).decode()}"
    launched = driver.chromium.launch(executable_path=chromium_path(), args=[*CHROMIUM_ARGUMENTS, taken])
    yield launched
    launched.close()


@pytest.fixture
def line(service: Workers, certificate) -> Iterator[TlsLine]:
    shown = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    certificate.configure_cert(shown)
    with line_to(service.port, TlsLine, shown) as made:
        yield made


def test_a_service_that_cannot_show_who_it_is_is_not_spoken_to(phone, service: Workers, line: TlsLine, watch):
    """Fault 14: another key in its place, or a handshake that comes to nothing; then the right one again."""
    watch.allow(PRINTED)
    person, one = service.ids["person"], service.ids["one"]
    page = open_controlled(phone, line)
    page.goto(f"{line.url}/sign-in")
    submit(page)
    page.wait_for_url("**/app/")
    saved, good = save(page, person, one, 1), line.certificate
    assert sync(page, person)["phase"] == "idle" and line.heard
    for handshake in (None, *HANDSHAKES.values()):
        fresh = save(page, person, one, 2)
        saved |= fresh
        line.certificate, line.handshake = certificate_of(trustme.CA()), handshake
        line.heard.clear()
        status = sync(page, person)
        assert (status["phase"], status["waiting"]) == ("offline", 2), (handshake, status)
        assert check_kept(page, service, person, saved) == dict.fromkeys(fresh, "waiting")
        assert line.heard == []
        line.certificate, line.handshake = good, None
        assert sync(page, person)["phase"] == "idle"
        check_all_there(page, service, person, saved)
