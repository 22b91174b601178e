"""The engine's bench as a service would run it: gunicorn with two workers, on either database."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from tests.browser.engine_bench import submit
from tests.browser.engine_server import build, fill
from tests.browser.live_server import entries_at
from tests.sync.real_server.gunicorn_server import WITH_FAILPOINTS, Gunicorn


class Workers(Gunicorn):
    """A server of the bench's page, with places at which a test can have it die, wait or fail."""

    def __init__(self, folder: Path, database_url: str, **variables: str) -> None:
        build(folder)
        self.folder, self.database_url, self.ids = folder, database_url, fill(database_url, {})
        self.cookies: list[Any] = []
        variables["LINTEL_TEST_BUILT"] = str(folder / "built")
        super().__init__(folder, database_url, WITH_FAILPOINTS, **variables)

    def let_in(self, page: Page) -> None:
        """Have Ann signed in: by the form once, afterwards by the cookies that it gave."""
        if self.cookies:
            page.context.add_cookies(self.cookies)
            return
        page.goto(f"{page.url.rpartition('/app/')[0]}/sign-in")
        submit(page)
        self.cookies = page.context.cookies()

    def log_entries(self) -> list[dict[str, Any]]:
        """The whole log in its order, read past the server."""
        return entries_at(self.database_url)


@contextmanager
def working_on(folder: Path, database_url: str, **variables: str) -> Iterator[Workers]:
    """Workers that are gone afterwards."""
    workers = Workers(folder, database_url, **variables)
    try:
        yield workers
    finally:
        workers.kill()
