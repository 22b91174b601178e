// The data key and its wraps: what opens them, what does not, and that nothing else changes.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {FEWEST_ROUNDS, WrongKey, addPasskey, calibrated, changePassphrase, makeKeyring, openKeyring, openWithPasskey,
  passkeysOf, withoutPasskeys} from '../../../static/crypto/keyring.js';
import {Damaged, FORMAT, createSealer} from '../../../static/crypto/sealer.js';

const PHRASE = 'lamp copper meadow quiet';
const OTHER = 'river pencil thunder nine';
const FEW = {rounds: 1000};
const PLACE = {store: 'entries', id: 'one'};
const passkey = () => ({credential: crypto.getRandomValues(new Uint8Array(20)),
  salt: crypto.getRandomValues(new Uint8Array(32)), secret: crypto.getRandomValues(new Uint8Array(32))});

test('only the passphrase opens it, and the key does not leave', async () => {
  const {key, keyring} = await makeKeyring(PHRASE, FEW);
  const sealed = await createSealer(key).seal({name: 'Invented'}, PLACE);
  const again = await openKeyring(structuredClone(keyring), '  LAMP copper  meadow quiet');
  assert.deepEqual(await createSealer(again).open(sealed, PLACE), {name: 'Invented'});
  await assert.rejects(openKeyring(keyring, OTHER), WrongKey);
  for (const each of [key, again]) {
    assert.equal(each.extractable, false);
    await assert.rejects(crypto.subtle.exportKey('raw', each));
  }
});

test('a new passphrase changes the wrap alone: what was sealed opens, the old one no longer does', async () => {
  const {key, keyring} = await makeKeyring(PHRASE, FEW);
  const sealed = await createSealer(key).seal('before', PLACE);
  const changed = await changePassphrase(keyring, PHRASE, OTHER, FEW);
  await assert.rejects(openKeyring(changed, PHRASE), WrongKey);
  assert.equal(await createSealer(await openKeyring(changed, OTHER)).open(sealed, PLACE), 'before');
  await assert.rejects(changePassphrase(keyring, OTHER, PHRASE, FEW), WrongKey);
});

test('a passkey opens the same key, survives a new passphrase, and can be taken away', async () => {
  const {key, keyring} = await makeKeyring(PHRASE, FEW);
  const sealed = await createSealer(key).seal('before', PLACE);
  const made = passkey();
  const both = await changePassphrase(await addPasskey(keyring, PHRASE, made), PHRASE, OTHER, FEW);
  const [wrap] = passkeysOf(both);
  assert.deepEqual([wrap.credential, wrap.salt], [made.credential, made.salt]);
  assert.equal(await createSealer(await openWithPasskey(wrap, made.secret)).open(sealed, PLACE), 'before');
  await assert.rejects(openWithPasskey(wrap, passkey().secret), WrongKey);
  await assert.rejects(addPasskey(keyring, OTHER, made), WrongKey);
  assert.deepEqual(passkeysOf(withoutPasskeys(both)), []);
  await openKeyring(withoutPasskeys(both), OTHER);
});

test('a wrap that was meddled with opens nothing', async () => {
  const {keyring} = await makeKeyring(PHRASE, FEW);
  for (const field of ['salt', 'iv', 'wrapped']) {
    const copy = structuredClone(keyring);
    copy.wraps[0][field][3] ^= 1;
    await assert.rejects(openKeyring(copy, PHRASE), WrongKey, field);
  }
  const weaker = structuredClone(keyring);
  weaker.wraps[0].rounds = 1;
  await assert.rejects(openKeyring(weaker, PHRASE), WrongKey);
});

test('never fewer rounds than advised, more where the phone is fast', async () => {
  const at = (milliseconds) => {
    let time = 0;
    return calibrated(() => { time += milliseconds; return time; });
  };
  assert.equal(await at(1000), FEWEST_ROUNDS);
  assert.equal(await at(50), 1_000_000);
  assert.ok(await at(0.001) <= 20_000_000);
});

test('sealed bytes open only where they were put, whole, and with their key', async () => {
  const {key} = await makeKeyring(PHRASE, FEW);
  const {key: foreign} = await makeKeyring(PHRASE, FEW);
  const sealer = createSealer(key);
  const value = {note: 'Rang the bell twice. 🛎 שלום', number: '36.8', list: [1, null, true]};
  const sealed = await sealer.seal(value, PLACE);
  assert.equal(sealed[0], FORMAT);
  assert.deepEqual(await sealer.open(sealed, PLACE), value);
  assert.ok(!Buffer.from(sealed).includes('bell'));
  assert.notDeepEqual(await sealer.seal(value, PLACE), sealed, 'each time another nonce');
  for (let at = 0; at < sealed.length; at += 1) {
    const flipped = sealed.slice();
    flipped[at] ^= 1;
    await assert.rejects(sealer.open(flipped, PLACE), Damaged, `byte ${at}`);
  }
  await assert.rejects(sealer.open(sealed.slice(0, -1), PLACE), Damaged);
  await assert.rejects(sealer.open(new Uint8Array(0), PLACE), Damaged);
  await assert.rejects(sealer.open(sealed, {...PLACE, id: 'two'}), Damaged);
  await assert.rejects(sealer.open(sealed, {...PLACE, store: 'drafts'}), Damaged);
  await assert.rejects(createSealer(foreign).open(sealed, PLACE), Damaged);
});
