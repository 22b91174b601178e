// Bytes as text and back. RFC 4648, section 10: the test vectors, without their padding as section 5 allows.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {base64url, fromBase64url} from '../../../static/crypto/base64url.js';

const VECTORS = {'': '', f: 'Zg', fo: 'Zm8', foo: 'Zm9v', foob: 'Zm9vYg', fooba: 'Zm9vYmE', foobar: 'Zm9vYmFy'};

test('the vectors of the standard, both ways', () => {
  for (const [plain, text] of Object.entries(VECTORS)) {
    assert.equal(base64url(new TextEncoder().encode(plain)), text);
    assert.equal(new TextDecoder().decode(fromBase64url(text)), plain);
  }
});

test('what differs from plain base64: - and _, no padding, any byte', () => {
  const bytes = Uint8Array.from({length: 256}, (_, index) => index);
  assert.equal(base64url(bytes), Buffer.from(bytes).toString('base64url'));
  assert.deepEqual(fromBase64url(base64url(bytes.buffer)), bytes);
  assert.equal(base64url(Uint8Array.of(0xfb, 0xff)), '-_8');
});
