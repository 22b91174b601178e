"""A push service on loopback for the tests: checks a message as RFC 8030, 8291 and 8292 ask, or misbehaves.

The tokens are verified by hand with `cryptography`, the messages decrypted with http_ece: nothing of the
library that sends them is used to read them.
"""

import base64
import json
import secrets
import threading
import time
from collections import defaultdict
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import http_ece
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

LONGEST_BODY = 4096  # RFC 8030, 7.2: a push service must take this much
LONGEST_TOPIC = 32  # RFC 8030, 5.4
LONGEST_TOKEN_LIFE = 24 * 3600  # RFC 8292, 2
URGENCIES = {"very-low", "low", "normal", "high"}  # RFC 8030, 5.3
BASE64URL = set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_")


def text(octets: bytes) -> str:
    return base64.urlsafe_b64encode(octets).rstrip(b"=").decode()


def octets(words: str) -> bytes:
    return base64.urlsafe_b64decode(words + "=" * (-len(words) % 4))


def _new_key() -> ec.EllipticCurvePrivateKey:
    return ec.generate_private_key(ec.SECP256R1())


@dataclass
class Browser:
    """A browser that subscribed: its keys, what it received, and how the service treats messages to it."""

    endpoint: str
    private: ec.EllipticCurvePrivateKey = field(default_factory=_new_key)
    auth: bytes = field(default_factory=lambda: secrets.token_bytes(16))
    answers: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    received: list[dict[str, Any]] = field(default_factory=list)

    def subscription(self, device: str) -> dict[str, str]:
        """What a browser hands to the app."""
        point = self.private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        return {"endpoint": self.endpoint, "p256dh": text(point), "auth": text(self.auth), "device": device}


class PushService:
    """Browsers, what was wrong with messages to them, and how often each path was asked."""

    def __init__(self) -> None:
        self.browsers: dict[str, Browser] = {}
        self.faults: list[str] = []
        self.asked: dict[str, int] = defaultdict(int)
        self.public_key = ""
        self.lock = threading.Lock()
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self.server.daemon_threads = True
        self.host = f"127.0.0.1:{self.server.server_address[1]}"
        self._thread = threading.Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.05})

    def __enter__(self) -> "PushService":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.server.shutdown()
        self.server.server_close()
        self._thread.join()

    def browser(self) -> Browser:
        """A new browser that subscribes."""
        path = f"/push/{secrets.token_urlsafe(16)}"
        self.browsers[path] = Browser(f"http://{self.host}{path}")
        return self.browsers[path]

    def take(self, path: str, headers: Any, body: bytes) -> tuple[int, dict[str, str]]:
        """How a message is answered."""
        with self.lock:
            self.asked[path] += 1
            browser = self.browsers.get(path)
            if browser is None:
                return 404, {}
            if browser.answers:
                return browser.answers.pop(0)
        try:
            self._check_token(headers)
            message = self._read(browser, headers, body)
        except Fault as fault:
            self.faults.append(str(fault))
            return fault.status, {}
        with self.lock:
            browser.received.append(message)
        return 201, {"Location": f"http://{self.host}/message/1"}

    def _check_token(self, headers: Any) -> None:
        scheme, _, rest = headers.get("Authorization", "").partition(" ")
        parts = dict(part.strip().split("=", 1) for part in rest.split(",") if "=" in part)
        if scheme.lower() != "vapid" or not {"t", "k"} <= parts.keys():
            raise Fault(401, "no vapid token and key")
        head, claims, signature = parts["t"].split(".")
        if json.loads(octets(head)) != {"typ": "JWT", "alg": "ES256"}:
            raise Fault(401, "not an ES256 token")
        key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), octets(parts["k"]))
        raw = octets(signature)
        dss = encode_dss_signature(int.from_bytes(raw[:32], "big"), int.from_bytes(raw[32:], "big"))
        try:
            key.verify(dss, f"{head}.{claims}".encode(), ec.ECDSA(hashes.SHA256()))
        except InvalidSignature as error:
            raise Fault(403, "the token is not signed by its key") from error
        if self.public_key and parts["k"] != self.public_key:
            raise Fault(403, "signed by another key than the one subscribed with")
        self._check_claims(json.loads(octets(claims)))

    def _check_claims(self, told: dict[str, Any]) -> None:
        if told.get("aud") != f"http://{self.host}":
            raise Fault(403, f"audience {told.get('aud')}")
        if not time.time() < told.get("exp", 0) <= time.time() + LONGEST_TOKEN_LIFE:
            raise Fault(403, f"expiry {told.get('exp')}")
        if not str(told.get("sub", "")).startswith(("mailto:", "https:")):
            raise Fault(403, f"subject {told.get('sub')}")

    def _read(self, browser: Browser, headers: Any, body: bytes) -> dict[str, Any]:
        topic = headers.get("Topic", "")
        if not headers.get("TTL", "").isdigit():
            raise Fault(400, "no TTL")  # RFC 8030, 5.2
        if len(topic) > LONGEST_TOPIC or not set(topic) <= BASE64URL:
            raise Fault(400, f"topic {topic}")
        if headers.get("Urgency") not in URGENCIES:
            raise Fault(400, f"urgency {headers.get('Urgency')}")
        if len(body) > LONGEST_BODY:
            raise Fault(413, f"{len(body)} bytes")
        if headers.get("Content-Encoding") != "aes128gcm":
            raise Fault(400, f"encoding {headers.get('Content-Encoding')}")
        plain = http_ece.decrypt(
            body, private_key=browser.private, auth_secret=browser.auth, version="aes128gcm"
        )
        return {"body": json.loads(plain), "topic": topic, "ttl": int(headers["TTL"]), "bytes": len(body)}


class Fault(Exception):
    """What was wrong with a message, with the status it is answered by."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status = status


def _handler(service: PushService) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            status, headers = service.take(self.path, self.headers, body)
            self.send_response(status)
            for name, value in {**headers, "Content-Length": "0"}.items():
                self.send_header(name, value)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    return Handler
