"""Fixtures of the browser tests: a live demo server, Chromium as a phone, and a watch over both."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

from tests.browser.engine_bench import Bench, sign_in
from tests.browser.faulty_line import Line
from tests.browser.live_server import LiveServer
from tests.browser.profile import Profile
from tests.browser.support import CHROMIUM_ARGUMENTS, PATIENCE, PHONE, chromium_path
from tests.browser.unlocking import keep_unlocked
from tests.browser.watch import Watch, watching
from tests.browser.workers import Workers, working_on
from tests.databases import DURABLE, Cluster


@pytest.fixture(scope="session")
def filled_folder(tmp_path_factory: pytest.TempPathFactory) -> LiveServer:
    """A stopped server whose folder holds the demo scenario; copies of it start in a moment."""
    server = LiveServer(tmp_path_factory.mktemp("filled"))
    server.start().stop()
    return server


@pytest.fixture(scope="session")
def server(filled_folder: LiveServer, tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """One server for all tests that only add to it. Use own_server to kill it or to count what is there."""
    started = filled_folder.copy_to(tmp_path_factory.mktemp("shared") / "server").start()
    yield started
    started.stop()


@contextmanager
def launched_ahead(filled: LiveServer, folders: pytest.TempPathFactory) -> Iterator[Callable[[], LiveServer]]:
    """Give a copy nobody has used, and launch the next, which is up by the time it is asked for."""
    launched: list[LiveServer] = []

    def launch_one() -> None:
        launched.append(filled.copy_to(folders.mktemp("own") / "server").launch())

    def take() -> LiveServer:
        if not launched:
            launch_one()
        taken = launched.pop()
        taken.wait_until_answering()
        launch_one()
        return taken

    yield take
    for left in launched:
        left.stop()


@pytest.fixture(scope="session")
def next_server(filled_folder, tmp_path_factory) -> Iterator[Callable[[], LiveServer]]:
    with launched_ahead(filled_folder, tmp_path_factory) as take:
        yield take


@pytest.fixture(scope="session")
def next_bench(filled_bench, tmp_path_factory) -> Iterator[Callable[[], LiveServer]]:
    with launched_ahead(filled_bench, tmp_path_factory) as take:
        yield take


@pytest.fixture
def own_server(next_server: Callable[[], LiveServer]) -> Iterator[LiveServer]:
    """A server for this test alone: kill() it, start() it again on the same port, stop() it."""
    taken = next_server()
    yield taken
    taken.stop()


@pytest.fixture(scope="session")
def filled_bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """A stopped bench of store and engine, built and filled; copies of it start in a moment."""
    bench = Bench(tmp_path_factory.mktemp("bench") / "filled")
    bench.folder.mkdir()
    bench.start().stop()
    return bench


@pytest.fixture(scope="session")
def shared_bench(filled_bench: Bench, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """One bench for all tests that only add to its log."""
    started = filled_bench.copy_to(tmp_path_factory.mktemp("bench") / "shared").start()
    yield started
    started.stop()


@pytest.fixture(scope="session")
def anns_cookies(shared_bench: Bench, browser: Browser) -> list:
    """What the form gives Ann when she signs in on the shared bench."""
    context = browser.new_context(**PHONE)
    sign_in(context.new_page(), shared_bench)
    cookies = context.cookies()
    context.close()
    return cookies


@pytest.fixture
def own_bench(next_bench: Callable[[], Bench]) -> Iterator[Bench]:
    """A bench for this test alone."""
    taken = next_bench()
    yield taken
    taken.stop()


@pytest.fixture
def bench(request: pytest.FixtureRequest) -> Bench:
    """A bench of its own for a test that asks for one, else the common one."""
    own = "own_bench" in request.fixturenames
    return request.getfixturevalue("own_bench" if own else "shared_bench")


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL that keeps what it committed when it is killed."""
    started = Cluster.start(DURABLE)
    yield started
    started.stop()


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def all_workers(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Workers]:
    """The bench on gunicorn, once with each database."""
    folder = tmp_path_factory.mktemp("workers")
    if request.param == "sqlite":
        with working_on(folder, f"sqlite:///{folder / 'lintel.sqlite3'}") as workers:
            yield workers
        return
    cluster = request.getfixturevalue("cluster")
    with working_on(folder, cluster.url(cluster.create())) as workers:
        yield workers


@pytest.fixture
def workers(all_workers: Workers) -> Iterator[Workers]:
    """The same, up and told to do nothing; nothing may surprise it that the test did not ask for."""
    all_workers.begin()
    yield all_workers
    all_workers.end()


@pytest.fixture
def line(bench: Bench) -> Iterator[Line]:
    """The line to the bench, sound until a test spoils it."""
    started = Line(bench.port).start()
    yield started
    started.stop()


@pytest.fixture
def near(bench: Bench, line: Line) -> Bench:
    """The bench as a phone reaches it: by the line alone."""
    return Bench(bench.folder, line.port)


@pytest.fixture(scope="session")
def driver() -> Iterator[Playwright]:
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(driver: Playwright) -> Iterator[Browser]:
    """Chromium, once for all tests; each test gets contexts of its own."""
    launched = driver.chromium.launch(executable_path=chromium_path(), args=CHROMIUM_ARGUMENTS)
    yield launched
    launched.close()


@pytest.fixture
def watch(request: pytest.FixtureRequest) -> Iterator[Watch]:
    """Fails the test on any console error, page error or policy violation that it did not allow."""
    # Set up before, so that it is stopped after the pages: they would complain of a server that goes first.
    for own in {"own_server", "own_bench"} & set(request.fixturenames):
        request.getfixturevalue(own)
    with watching() as watch:
        yield watch


@pytest.fixture
def open_phone(browser: Browser, watch: Watch) -> Iterator[Callable[..., BrowserContext]]:
    """Open a phone: open_phone(), open_phone(color_scheme="dark"), or any other context option."""
    opened: list[BrowserContext] = []

    def open_one(**options) -> BrowserContext:
        context = browser.new_context(**{**PHONE, **options})
        context.set_default_timeout(PATIENCE)
        watch.over(context)
        keep_unlocked(context)
        opened.append(context)
        return context

    yield open_one
    for context in opened:
        context.close()


@pytest.fixture
def phone(open_phone: Callable[..., BrowserContext]) -> BrowserContext:
    """A phone of 360 by 800, in light colours."""
    return open_phone()


@pytest.fixture
def page(phone: BrowserContext) -> Page:
    return phone.new_page()


@pytest.fixture
def open_profile(driver: Playwright, watch: Watch, tmp_path: Path) -> Iterator[Callable[[str], Profile]]:
    """Open a browser that keeps its profile on disk: open_profile("phone").open(), then kill() and open()."""
    made: list[Profile] = []

    def open_one(name: str = "phone") -> Profile:
        made.append(Profile(driver, tmp_path / name, watch))
        return made[-1]

    yield open_one
    for profile in made:
        profile.close()
