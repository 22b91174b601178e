"""A phone without room, as the therapist sees it: fault 30."""

from playwright.sync_api import expect

from tests.browser.therapist import Therapist

CLIENT = "Femke van der Zilverberg"
FILL_UP = """async () => {
  const {name} = (await indexedDB.databases()).find(({name}) => /^lintel-[0-9a-f]{8}-/.test(name));
  const db = await new Promise((resolve) => {
    const opening = indexedDB.open(name);
    opening.onsuccess = () => resolve(opening.result);
  });
  const put = (row) => new Promise((resolve) => {
    const writing = db.transaction('drafts', 'readwrite');
    writing.oncomplete = () => resolve(true);
    writing.onabort = () => resolve(false);
    writing.objectStore('drafts').put(row);
  });
  // Chance, as what is sealed looks: the browser packs anything else.
  const filler = (size) => crypto.getRandomValues(new Uint8Array(size));
  let rows = 0;
  for (let before = -1; before < rows;) {  // until not even the smallest fits: room may show late
    before = rows;
    for (const size of [50_000, 5_000, 500, 50]) {
      while (await put({key: `filler-${rows}`, at: 0, sealed: filler(size)})) rows += 1;
    }
  }
  db.close();
  return rows;
}"""


def test_a_save_without_room_says_so_keeps_the_form_and_works_when_there_is_room(page, own_server):
    """Fault 30: no false "saved", nothing typed is lost, and the same button saves it afterwards."""
    # Set before the store opens, for the browser looks rarely; ample, and then filled up.
    room = page.context.new_cdp_session(page)
    room.send("Storage.overrideQuotaForOrigin", {"origin": own_server.url, "quotaSize": 10_000_000})
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    therapist.open_part("Pulse")
    therapist.choose("Rate read from a device")
    therapist.enter("Rate", "71")
    therapist.choose("Regular", "Rhythm")
    assert page.evaluate(FILL_UP) > 0, "there was no room to begin with"
    therapist.save_button().click()
    alert = page.get_by_role("alert")
    expect(alert).to_contain_text("This phone has no room left")
    expect(page.get_by_text("Saved on this phone")).to_have_count(0)
    expect(page.get_by_role("textbox", name="Rate")).to_have_value("71")
    expect(page.locator("a.status")).not_to_contain_text("not sent")
    room.send("Storage.overrideQuotaForOrigin", {"origin": own_server.url})
    therapist.save()
    therapist.wait_for_sync()
    therapist.open_client(CLIENT)
    expect(page.get_by_role("link", name="Pulse").first).to_contain_text("71 /min")
