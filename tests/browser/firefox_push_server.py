"""A push service on loopback that Firefox registers with: WebSocket on one side, RFC 8030 on the other.

The messages are those Firefox was seen to send and take; here is what one browser needs.
"""

import base64
import json
import secrets
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from websockets.exceptions import ConnectionClosed
from websockets.sync.server import Server, ServerConnection, serve


class FirefoxPushServer:
    """Takes registrations on one port and messages on another."""

    def __init__(self) -> None:
        self.messages: list[bytes] = []
        self.acknowledged: list[Any] = []
        self._channels: dict[str, tuple[ServerConnection, str]] = {}
        self._sockets: Server = serve(self._talk, "127.0.0.1", 0, subprotocols=["push-notification"])
        self._http = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self._http.daemon_threads = True

    @property
    def address(self) -> str:
        """Where Firefox connects to."""
        return f"ws://127.0.0.1:{self._sockets.socket.getsockname()[1]}/"

    @property
    def host(self) -> str:
        """Host and port of the endpoints."""
        return f"127.0.0.1:{self._http.server_address[1]}"

    def __enter__(self) -> "FirefoxPushServer":
        for serve_forever in (self._sockets.serve_forever, self._http.serve_forever):
            threading.Thread(target=serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._http.shutdown()
        self._http.server_close()
        self._sockets.shutdown()

    def _talk(self, connection: ServerConnection) -> None:
        try:
            for text in connection:
                told = json.loads(text)
                answer = self._answer(connection, told)
                if answer is not None:
                    connection.send(json.dumps(answer))
        except ConnectionClosed:
            pass

    def _answer(self, connection: ServerConnection, told: dict[str, Any]) -> dict[str, Any] | None:
        kind = told.get("messageType")
        if kind == "hello":
            known = told.get("uaid") or secrets.token_hex(16)
            told = {"uaid": known, "status": 200, "use_webpush": True, "broadcasts": {}}
            return {"messageType": "hello", **told}
        if kind in ("register", "unregister"):
            path = f"/push/{secrets.token_urlsafe(16)}"
            self._channels[path] = connection, told["channelID"]
            same = {"messageType": kind, "channelID": told["channelID"], "status": 200}
            return same | ({"pushEndpoint": f"http://{self.host}{path}"} if kind == "register" else {})
        if kind == "ack":
            self.acknowledged += told["updates"]
        return {} if told == {} else None

    def deliver(self, path: str, body: bytes) -> int:
        """Hand a message to its browser; how its sender is answered."""
        if path not in self._channels:
            return 404
        connection, channel = self._channels[path]
        self.messages.append(body)
        data = base64.urlsafe_b64encode(body).rstrip(b"=").decode()
        connection.send(json.dumps({
            "messageType": "notification", "channelID": channel, "version": secrets.token_hex(8),
            "data": data, "headers": {"encoding": "aes128gcm"},
        }))  # fmt: skip
        return 201


def _handler(service: FirefoxPushServer) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            self.send_response(service.deliver(self.path, body))
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    return Handler
