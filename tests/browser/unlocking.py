"""The lock screen as its owner deals with it: whenever it stands in the way, the passphrase is entered."""

from playwright.sync_api import BrowserContext, Page

PASSPHRASE = "river pencil thunder button"
# The app measures the phone to find how many rounds half a second allows. A phone that seems slow gets the
# fewest that are ever used: tests unlock often.
SEEM_SLOW = """() => {
  const real = performance.now.bind(performance);
  performance.now = () => real() * 1000;
}"""
AS_BEFORE = "() => { delete performance.now; }"  # the prototype's own is found again
# A lock screen in the way opens in a moment; tests/browser/test_lock.py has the whole cost, and the bench
# opens stores of earlier versions, which cost what they cost.
QUICK_TO_OPEN = """
if (globalThis.SubtleCrypto) {
  const {deriveKey} = SubtleCrypto.prototype;
  SubtleCrypto.prototype.deriveKey = function (how, ...all) {
    const cheap = how.name === 'PBKDF2' && !globalThis.bench;
    return deriveKey.call(this, cheap ? {...how, iterations: 1000} : how, ...all);
  };
}
"""


def keep_unlocked(context: BrowserContext) -> None:
    """From now on every page of a context enters the passphrase by itself, before the next step."""
    context.add_init_script(QUICK_TO_OPEN)
    for page in context.pages:
        watch_for_locks(page)
    context.on("page", watch_for_locks)


def watch_for_locks(page: Page) -> None:
    """Have one page deal with its lock screens."""
    page.add_locator_handler(page.get_by_role("heading", name="Guard this phone"), lambda: choose(page))
    page.add_locator_handler(page.get_by_role("heading", name="Locked", exact=True), lambda: unlock(page))


def choose(page: Page, passphrase: str = PASSPHRASE) -> None:
    """Choose a passphrase for this phone, as asked for after the first sign-in."""
    page.evaluate(SEEM_SLOW)
    page.get_by_label("Passphrase", exact=True).fill(passphrase)
    page.get_by_label("The same again").fill(passphrase)
    page.get_by_role("button", name="Lock with this passphrase").click()
    page.get_by_role("heading", name="Guard this phone").wait_for(state="hidden")
    page.evaluate(AS_BEFORE)


def unlock(page: Page, passphrase: str = PASSPHRASE) -> None:
    """Enter the passphrase at the lock screen."""
    page.get_by_label("Passphrase", exact=True).fill(passphrase)
    page.get_by_role("button", name="Unlock", exact=True).click()
