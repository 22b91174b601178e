/** This browser's subscription to reminders: what it can do, switching on and off, and keeping it alive. */
import {ask} from '../../sync/ask.js';

/** Kept sealed on this phone while reminders are on: {endpoint}. */
const KEPT = 'reminders';
const PATH = '/api/v1/reminders';

const WORDS = {
  denied: 'This browser does not let Lintel show notifications. Allow them for this site in the browser’s or the phone’s settings, then try again.',
  dismissed: 'The question of the browser was not answered, so nothing was switched on. Try again and allow notifications.',
  failed: 'The browser could not reach its own message service. Try again with a good connection. The list, the badge and the calendar work without it.',
};

/** Whether this browser can take reminders at all. */
export const pushPossible = (scope = globalThis) =>
  Boolean(scope.navigator?.serviceWorker && scope.PushManager && scope.Notification);

const manager = async (browser) => (await browser.serviceWorker.ready).pushManager;

/** The subscription of this browser, or null. @param {Navigator} [browser] */
export async function subscriptionHere(browser = navigator) {
  const registration = await browser.serviceWorker.getRegistration();
  return await registration?.pushManager.getSubscription() ?? null;
}

/**
 * Asks for permission, subscribes, and tells the server. Call it from a tap: browsers insist.
 * @param {{store: object, key: string, scope?: object, tell?: typeof ask}} parts `key` of the service, base64url
 * @returns {Promise<import('../../sync/ask.js').Told>}
 */
export async function switchOn({store, key, scope = globalThis, tell = ask}) {
  const permission = await scope.Notification.requestPermission();
  if (permission !== 'granted') return refused(permission === 'denied' ? WORDS.denied : WORDS.dismissed);
  return subscribe({store, key, browser: scope.navigator, tell});
}

async function subscribe({store, key, browser, tell}) {
  let made;
  try {
    made = await subscribed(await manager(browser), key);
  } catch (failure) {
    return refused(failure.name === 'NotAllowedError' ? WORDS.denied : WORDS.failed);
  }
  const {endpoint, keys: {p256dh, auth}} = made.toJSON();
  const before = await store.meta(KEPT);
  const told = await tell(`${PATH}/subscribe`, {body: {endpoint, p256dh, auth, device: store.device}});
  if (!told.ok) return told;
  await store.setMeta(KEPT, {endpoint});
  const moved = before && before.endpoint !== endpoint;
  return moved ? tell(`${PATH}/unsubscribe`, {body: {endpoint: before.endpoint}}) : told;
}

/** One made for another key of the service would take messages that nobody sends any more. */
async function subscribed(pushManager, key) {
  const there = await pushManager.getSubscription();
  if (there && keyOf(there) === key) return there;
  await there?.unsubscribe();
  return pushManager.subscribe({userVisibleOnly: true, applicationServerKey: key});
}

function keyOf({options}) {
  const bytes = new Uint8Array(options?.applicationServerKey ?? []);
  return btoa(String.fromCharCode(...bytes)).replaceAll('+', '-').replaceAll('/', '_').replaceAll('=', '');
}

/**
 * Ends the subscription: on the server first, so that a browser that forgets it is not written to.
 * @param {{store: object, browser?: Navigator, tell?: typeof ask, anyhow?: boolean}} parts `anyhow`: end it in the
 *   browser also when the server cannot be told; it then hears of it at its next message
 * @returns {Promise<import('../../sync/ask.js').Told>}
 */
export async function switchOff({store, browser = navigator, tell = ask, anyhow = false}) {
  const kept = await store.meta(KEPT);
  const here = await subscriptionHere(browser);
  const endpoint = kept?.endpoint ?? here?.endpoint;
  const told = endpoint ? await tell(`${PATH}/unsubscribe`, {body: {endpoint}}) : await tell(PATH);
  if (!told.ok && !anyhow) return told;
  await here?.unsubscribe();
  await store.setMeta(KEPT, null);
  return told;
}

/**
 * Once at each start: a subscription that the browser changed, that was made for a former key of the service or
 * that the server lost is made anew. Quiet: whoever wants to know looks at the screen of reminders.
 * @param {{store: object, scope?: object, tell?: typeof ask}} parts
 * @returns {Promise<boolean>} whether one was made
 */
export async function keepSubscribed({store, scope = globalThis, tell = ask}) {
  try {
    const kept = await store.meta(KEPT);
    if (!kept || !pushPossible(scope) || scope.Notification.permission !== 'granted') return false;
    const {ok, answer} = await tell(PATH);
    if (!ok || !answer.key) return false;
    const here = await subscriptionHere(scope.navigator);
    if (answer.browsers > 0 && here?.endpoint === kept.endpoint && keyOf(here) === answer.key) return false;
    return (await subscribe({store, key: answer.key, browser: scope.navigator, tell})).ok;
  } catch {
    return false;  // locked meanwhile, or the browser's service is away: the next start tries again
  }
}

const refused = (message) => ({ok: false, answer: null, message, field: null});
