"""Receipts: what they cover, and that another key, organisation, order or amount is another receipt."""

import hashlib
import hmac
from base64 import urlsafe_b64encode

from sync.receipts import Receipts

OURS, HASHES = "0c9d7f36-43a5-4a0e-8a3f-2a4f1d9f7e01", ["0" * 64, "a" * 64, "0" * 64]
KEY, FORMER = b"an invented key", b"the one before it"


def test_a_receipt_is_what_the_protocol_says():
    text = f'{{"entries":["{HASHES[0]}","{HASHES[1]}","{HASHES[2]}"],"organisation":"{OURS}"}}'
    made = urlsafe_b64encode(hmac.new(KEY, text.encode(), hashlib.sha256).digest()).decode().rstrip("=")
    assert Receipts([KEY, FORMER]).issue(OURS, HASHES) == made and len(made) == 43


def test_former_keys_prove_and_do_not_issue():
    before = Receipts([FORMER]).issue(OURS, HASHES)
    now = Receipts([KEY, FORMER])
    assert now.proves(before, OURS, HASHES) and now.issue(OURS, HASHES) != before
    assert not Receipts([KEY]).proves(before, OURS, HASHES)


def test_nothing_else_is_proved():
    receipts = Receipts([KEY])
    made = receipts.issue(OURS, HASHES)
    assert receipts.proves(made, OURS, HASHES)
    for hashes in ([], HASHES[:2], HASHES[1:], [*HASHES, "0" * 64], HASHES[1:] + HASHES[:1]):
        assert not receipts.proves(made, OURS, hashes)
    assert not receipts.proves(made, OURS.replace("0", "1"), HASHES)
    for text in (None, "", made[:-1], made + "=", made.swapcase(), "é" * 43):
        assert not receipts.proves(text, OURS, HASHES)
