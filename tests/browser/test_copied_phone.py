"""A phone's storage on a second phone: both give out the same numbers, lose nothing, and get own ids."""

from tests.browser.engine_bench import open_controlled, sign_in
from tests.browser.kept import check_kept, hashes, log_of, save, sync

DEVICE = "async () => [store.device, await store.devices()]"


def test_two_copies_of_a_phone_lose_nothing_and_part_ways(own_bench, phone, browser):
    bench, person, client = own_bench, own_bench.ids["person"], own_bench.ids["one"]
    first = open_controlled(phone, bench)
    sign_in(first, bench)
    saved = save(first, person, client, 2)
    assert sync(first, person)["phase"] == "idle"
    other = browser.new_context()
    second = open_controlled(other, bench)
    dumped = first.evaluate("(name) => bench.dump(name)", f"lintel-{person}")
    second.evaluate("([name, dumped]) => bench.load(name, dumped)", [f"lintel-{person}", dumped])
    sign_in(second, bench)
    saved |= save(first, person, client, 3) | save(second, person, client, 2)
    for page in (first, second, first, second):
        assert sync(page, person)["phase"] == "idle"
    numbers = [(entry["device"], entry["device_seq"]) for entry in log_of(bench)]
    assert len(numbers) == 7 and len(set(numbers)) == 5  # the two copies met at 3 and 4
    (one, ones), (two, twos) = first.evaluate(DEVICE), second.evaluate(DEVICE)
    assert one != two and ones[1:] == twos[1:] == [numbers[0][0]]
    saved |= save(first, person, client) | save(second, person, client)
    for page in (first, second, first):
        assert sync(page, person)["phase"] == "idle"
    assert check_kept(first, bench, person, saved) == check_kept(second, bench, person, saved) == {}
    assert [(entry["device"], entry["device_seq"]) for entry in log_of(bench)[7:]] == [(one, 1), (two, 1)]
    assert set(saved) == set(hashes(log_of(bench)))
    other.close()
