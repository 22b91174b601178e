"""Take the picture in README.md anew, after a run of the tests: `python -m tests.browser.readme_picture`."""

import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import expect, sync_playwright

from tests.browser.live_server import LiveServer
from tests.browser.support import CHROMIUM_ARGUMENTS, PHONE, ROOT, chromium_path, screenshot, sign_in
from tests.browser.unlocking import keep_unlocked

PICTURE = ROOT / ".images" / "client.png"
SHOWN = "Mr Tallowfield"


def main() -> None:
    """Sign in to a fresh demo and photograph one client's card."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        server = LiveServer(Path(folder)).start()
        browser = driver.chromium.launch(executable_path=chromium_path(), args=CHROMIUM_ARGUMENTS)
        phone = browser.new_context(**PHONE)
        keep_unlocked(phone)
        page = phone.new_page()
        sign_in(page, server.url)
        expect(page.get_by_text("synced at").first).to_be_visible()
        page.get_by_text(SHOWN, exact=True).first.click()
        expect(page.get_by_role("heading", name="Tallowfield").first).to_be_visible()
        taken = screenshot(page, "client")
        browser.close()
        server.stop()
    PICTURE.parent.mkdir(exist_ok=True)
    shutil.copyfile(taken, PICTURE)
    print(f"Taken: {PICTURE.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
