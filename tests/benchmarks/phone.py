"""Measured in the browser: saving until durable."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Playwright

from tests.benchmarks.figures import Figure
from tests.browser.engine_bench import Bench, open_controlled
from tests.browser.profile import Profile
from tests.browser.watch import Watch

SAVES = 200
READING = {
    "fields": {
        "posture": "sitting", "method": "automatic",
        "readings": [{"arm": "left", "systolic": "128", "diastolic": "76"}] * 2,
    },
    "units": {}, "technique": ["rested_5_minutes", "back_supported"], "confirmed": [],
}  # fmt: skip
SAVE_MANY_TIMES = """async ([person, client, body, times]) => {
  const store = await bench.openStore(person);
  const taken = [];
  for (let number = 0; number < times; number += 1) {
    const start = performance.now();
    await store.save({kind: 'blood_pressure', client, body});
    taken.push(performance.now() - start);
  }
  return taken;
}"""


@contextmanager
def profile_on_disk(driver: Playwright) -> Iterator[Profile]:
    with tempfile.TemporaryDirectory() as folder:
        profile = Profile(driver, Path(folder) / "profile", Watch())
        yield profile
        profile.close()


def saving(driver: Playwright, folder: Path) -> Figure:
    """Save readings one after another, each until its transaction is on disk."""
    bench = Bench(folder)
    bench.folder.mkdir()
    bench.start()
    try:
        with profile_on_disk(driver) as profile:
            page = open_controlled(profile.open(), bench)
            place = [bench.ids["person"], bench.ids["one"]]
            taken = page.evaluate(SAVE_MANY_TIMES, [*place, READING, SAVES])
    finally:
        bench.stop()
    return Figure(
        "save one reading until durable", tuple(taken), "store.save, strict durability, profile on disk"
    )
