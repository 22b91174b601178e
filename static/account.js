// Passkeys on /sign-in and /account, and the code of a link on /sign-in/new-password.
// The server's pages work without this; only what needs the browser's own authenticator is here.
import {base64url, fromBase64url} from './crypto/base64url.js';

const FRESH_MS = 4 * 60 * 1000; // a challenge is good for five minutes
const LEFT = new Set(['AbortError', 'NotAllowedError']);

const withBytes = (list) => list?.map((each) => ({...each, id: fromBase64url(each.id)}));

/**
 * What the server wants an authenticator asked for, with bytes where JSON has text.
 * @param {HTMLFormElement} form
 * @returns {Promise<PublicKeyCredentialCreationOptions | PublicKeyCredentialRequestOptions>}
 */
async function askServer(form) {
  const headers = {'X-CSRFToken': form.elements.csrf_token.value};
  const answer = await fetch(form.dataset.passkey, {method: 'POST', headers});
  if (answer.status === 429) throw Object.assign(new Error(), {name: 'TooMany'});
  if (!answer.ok) throw new Error(`${answer.status}`);
  const told = await answer.json();
  return {
    ...told,
    challenge: fromBase64url(told.challenge),
    ...(told.user && {user: {...told.user, id: fromBase64url(told.user.id)}}),
    ...(told.excludeCredentials && {excludeCredentials: withBytes(told.excludeCredentials)}),
    ...(told.allowCredentials && {allowCredentials: withBytes(told.allowCredentials)}),
  };
}

/** @param {PublicKeyCredential} credential */
function written({id, rawId, type, response}) {
  const parts = {};
  for (const name of ['clientDataJSON', 'attestationObject', 'authenticatorData', 'signature', 'userHandle']) {
    if (response[name]) parts[name] = base64url(response[name]);
  }
  return JSON.stringify({id, rawId: base64url(rawId), type, response: parts});
}

function say(form, sentence) {
  const line = form.querySelector('[role=alert][hidden], [role=alert][data-told]');
  line.dataset.told = '';
  line.textContent = sentence;
  line.hidden = false;
}

function explain(form, error) {
  if (error.name === 'AbortError') return;
  if (error.name === 'InvalidStateError') say(form, 'This device has a passkey for your account already.');
  else if (error.name === 'NotAllowedError') say(form, 'No passkey was used. Try again when you are ready.');
  else if (error.name === 'SecurityError') say(form, 'Passkeys do not work at this address: it needs a host name and a secure connection.');
  else if (error.name === 'TooMany') say(form, 'Too many passkeys were asked for from here. Try again in five minutes.');
  else say(form, 'This did not work. Check the connection and try again.');
}

let offering = null;

async function ask(form, options = {}) {
  const publicKey = await askServer(form);
  const making = 'pubKeyCredParams' in publicKey;
  const credential = await (making
    ? navigator.credentials.create({publicKey})
    : navigator.credentials.get({publicKey, ...options}));
  if (!credential) return;
  form.elements.answer.value = written(credential);
  form.submit();
}

// The browser's own list of passkeys under the name's field, renewed before its challenge grows old.
async function offer(form) {
  if (!await PublicKeyCredential.isConditionalMediationAvailable?.()) return;
  offering = new AbortController();
  const {signal} = offering;
  const renew = setTimeout(() => {
    offering.abort();
    offer(form).catch(() => {});
  }, FRESH_MS);
  try {
    await ask(form, {mediation: 'conditional', signal});
  } catch (error) {
    if (!LEFT.has(error.name)) clearTimeout(renew);
  }
}

function begin(form) {
  form.hidden = false;
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    offering?.abort();
    try {
      await ask(form);
    } catch (error) {
      explain(form, error);
    }
  });
  if (form.dataset.passkey.startsWith('/sign-in')) offer(form).catch(() => {});
}

function takeCode(field) {
  const code = location.hash.slice(1);
  if (!code) return;
  field.querySelector('input').value = code;
  field.hidden = true;
  // Out of the address, so that it is in no history and on no screen.
  history.replaceState(null, '', location.pathname);
}

const form = document.querySelector('form[data-passkey]');
if (form && globalThis.PublicKeyCredential) begin(form);
const field = document.querySelector('[data-from-address]');
if (field) takeCode(field);
