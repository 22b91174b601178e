// A passkey of this device as a second way to the data key: the authenticator answers a salt with a secret
// that only it can make (WebAuthn's PRF extension), after it has checked that the person is there.
import {base64url} from './base64url.js';

const random = (length) => crypto.getRandomValues(new Uint8Array(length));
const WAIT = 60_000;

/** The authenticator has no PRF, or the person did not go through with it. */
export class NoPasskey extends Error {}

/** Whether this browser can try at all. */
export const passkeysPossible = () => typeof globalThis.PublicKeyCredential === 'function';

/**
 * Makes a passkey and has it answer a new salt.
 * @param {{userId: string, name: string}} person
 * @returns {Promise<{credential: Uint8Array, salt: Uint8Array, secret: Uint8Array}>}
 * @throws {NoPasskey}
 */
export async function makePasskey({userId, name}) {
  const salt = random(32);
  const made = await asked(() => navigator.credentials.create({publicKey: {
    rp: {name: 'Lintel on this phone'},
    user: {id: new TextEncoder().encode(userId), name, displayName: name},
    challenge: random(32),
    pubKeyCredParams: [{type: 'public-key', alg: -7}, {type: 'public-key', alg: -257}],
    authenticatorSelection: {userVerification: 'required', residentKey: 'discouraged'},
    timeout: WAIT,
    extensions: {prf: {eval: {first: salt}}},
  }}));
  const {prf} = made.getClientExtensionResults();
  if (!prf?.enabled) throw new NoPasskey('This phone’s passkeys cannot guard the records. The passphrase goes on working.');
  const credential = new Uint8Array(made.rawId);
  // Some authenticators answer the salt only when asked again.
  const secret = prf.results?.first ? new Uint8Array(prf.results.first) : await askPasskey([{credential, salt}]).then((answer) => answer.secret);
  return {credential, salt, secret};
}

/**
 * Has one of some passkeys answer its salt.
 * @param {{credential: Uint8Array, salt: Uint8Array}[]} known
 * @returns {Promise<{credential: Uint8Array, secret: Uint8Array}>}
 * @throws {NoPasskey}
 */
export async function askPasskey(known) {
  const evalByCredential = Object.fromEntries(known.map(({credential, salt}) => [base64url(credential), {first: salt}]));
  const answer = await asked(() => navigator.credentials.get({publicKey: {
    challenge: random(32),
    allowCredentials: known.map(({credential}) => ({type: 'public-key', id: credential})),
    userVerification: 'required',
    timeout: WAIT,
    extensions: {prf: {evalByCredential}},
  }}));
  const first = answer.getClientExtensionResults().prf?.results?.first;
  if (!first) throw new NoPasskey('The passkey gave no answer. Use the passphrase.');
  return {credential: new Uint8Array(answer.rawId), secret: new Uint8Array(first)};
}

async function asked(work) {
  try {
    return await work();
  } catch {
    throw new NoPasskey('The passkey was not used. Try again, or use the passphrase.');
  }
}
