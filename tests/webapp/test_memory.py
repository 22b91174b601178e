"""What a worker need not hold in memory, and what it holds of it at once."""

import subprocess
import sys
import threading
import time

from tests.browser.live_server import ROOT
from webapp.storage import passwords

# Migrations, the lists of known passwords, and what sends push messages: other programs' work, or rare.
NOT_NEEDED = ("alembic", "mako", "zxcvbn", "pywebpush", "aiohttp", "requests")
LOADED = f"""
import sys
from webapp import create_app
from webapp.config import Settings
secret = "an invented secret, for tests and for nothing else"
create_app(Settings(database_url="sqlite://", secret_key=secret, demo=True))
print(*[name for name in {NOT_NEEDED} if name in sys.modules])
"""


def test_a_worker_that_answers_requests_does_not_load_what_others_need():
    said = subprocess.run(
        [sys.executable, "-c", LOADED], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert said.stdout.split() == []


class Counting:
    """In the place of the hasher: how many checks were under way at the same time, two at the least."""

    def __init__(self) -> None:
        self.lock, self.now, self.most = threading.Lock(), 0, 0
        self.pair = threading.Barrier(2)

    def verify(self, _kept: str, _password: str) -> bool:
        with self.lock:
            self.now += 1
            self.most = max(self.most, self.now)
        self.pair.wait(60)
        time.sleep(0.02)  # for a third to come in, if it may
        with self.lock:
            self.now -= 1
        return True


def test_many_who_sign_in_at_once_take_the_memory_of_two(monkeypatch):
    counting = Counting()
    monkeypatch.setattr(passwords, "HASHER", counting)
    fits: list[bool] = []
    threads = [
        threading.Thread(target=lambda: fits.append(passwords.password_fits("a hash", "a password")))
        for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert fits == [True] * 8 and counting.most == 2
