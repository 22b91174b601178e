// Start: whoever used this phone last unlocks it, with or without a network; then sync begins.
import {clientCard, dataVersion} from './clinical/index.js';
import {StoreError, currentPerson, forgetCurrentPerson, keysOf, knownPeople, lockStores, openStore, rememberPerson,
  removePerson, requestPersistence, unsentOf} from './store/index.js';
import {askSession, createEngine} from './sync/engine.js';
import {registerWorker} from './sync/update.js';
import {keepBadge} from './views/due/badge.js';
import {careOf, keepChanges} from './views/due/changes.js';
import {localDate} from './views/format.js';
import {html, render} from './views/html.js';
import {LOCK_AFTER_DEFAULT, watchIdle} from './views/idle.js';
import {rememberInstallOffer} from './views/install_note.js';
import {sortByVersion} from './views/kinds.js';
import {ChoosePassphrase, Locked} from './views/lock.js';
import {isForm} from './views/older_note.js';
import {hearReminders} from './views/reminders/offer.js';
import {keepSubscribed} from './views/reminders/push.js';
import {Shell} from './views/shell.js';
import {Start} from './views/start.js';

// Raised by hand when the card's shape changes, so that cards made by an older app are made anew.
const CARD_SHAPE = 3;
const MINUTE = 60_000;
const WRITES_END_WITHIN = 2_000;  // what the screens keep as they close needs the connection a moment longer

const root = document.getElementById('app');
const windows = new BroadcastChannel('lintel-lock');

async function start() {
  rememberInstallOffer();
  hearReminders();
  window.addEventListener('unhandledrejection', saidAlready);
  registerWorker().catch(() => {});  // private windows may refuse a worker; the app still works with a signal
  const person = await currentPerson();
  if (person) await guard(person.id);
  else await greet();
}

/** Nobody is known on this phone yet: the server says who has signed in. */
async function greet() {
  const {signedIn, session} = await askSession();
  if (signedIn) await welcome(session);
  else render(html`<${Start} reason=${signedIn === null ? 'offline' : 'sign_in'} empty=${(await knownPeople()).length === 0} />`, root);
}

async function welcome(session) {
  await rememberPerson({id: session.user.id});
  // Some browsers ask the person first, and answer when they are answered.
  requestPersistence().catch(() => {});
  await guard(session.user.id, session);
}

/** Nothing of a person's is opened before their passphrase or passkey opens the key. */
async function guard(userId, session = null) {
  const keys = keysOf(userId);
  const {made, passkey} = await keys.state();
  const opened = (work) => async (...given) => {
    try {
      await work(...given);
      await openFor(userId, keys, session);
    } catch (failure) {
      if (failure?.code !== 'newer') throw failure;
      sayUnopened(failure);
    }
  };
  if (!made) return render(html`<${ChoosePassphrase} create=${opened(keys.create)} />`, root);
  return render(html`<${Locked} unlock=${opened(keys.unlock)} unlockWithPasskey=${passkey ? opened(keys.unlockWithPasskey) : null}
    someoneElse=${signInAnew} unsent=${() => unsentOf(userId)} forgotten=${() => removePerson(userId).then(signInAnew)} />`, root);
}

// From what this version can read; a record of newer entries alone is still this client's.
function cardOf(entries, client, settings) {
  const {known} = sortByVersion(entries);
  return {...clientCard(known, localDate(new Date())), ...careOf(known, settings.calendar?.zone), client};
}

async function signInAnew() {
  await forgetCurrentPerson();
  location.assign('/sign-in');
}

async function openFor(userId, keys, session) {
  const settings = {};
  const project = (entries, client) => cardOf(entries, client, settings);
  const store = await openStore(userId, {project, projectVersion: `${dataVersion}/${CARD_SHAPE}`});
  if (session) await store.setMeta('session', withoutToken(session));
  const person = personIn(await store.meta('session') ?? {user: {id: userId, name: '', role: ''}, organisation: null});
  Object.assign(settings, settingsOf(person));
  const engine = createEngine({store});
  const changes = keepChanges({store, settings});
  const badge = keepBadge({store, settings, changes});
  const app = {store, engine, me: person, settings, changes, guard: guardian({keys, store, engine, person, keepers: [changes, badge]})};
  engine.subscribe(() => followSession(engine, person));
  followSettings(app);
  await engine.recall();
  await changes.begin();
  render(html`<${Shell} app=${app} />`, root);
  await engine.start();
  await keepSubscribed({store});
}

/** What the screens may do about the lock; watches for idle hands meanwhile. */
function guardian({keys, store, engine, person, keepers}) {
  let minutes = LOCK_AFTER_DEFAULT;
  const learn = () => store.meta('lock_after').then((kept) => { minutes = kept ?? LOCK_AFTER_DEFAULT; }, () => {});
  learn();
  const unsubscribe = store.subscribe(({type, elsewhere}) => {
    if (type === 'meta') learn();
    if (type === 'newer' && !elsewhere && !isForm()) outgrown();
  });
  const stopWatching = watchIdle({lock: () => lock(), idle: () => minutes * MINUTE});
  const heard = () => lock({telling: false});
  windows.addEventListener('message', heard);

  function lock({telling = true} = {}) {
    windows.removeEventListener('message', heard);
    stopWatching();
    unsubscribe();
    engine.stop();
    for (const keeper of keepers) keeper.stop();
    render(null, root);  // the screens keep what was being typed as they go
    lockStores();
    if (telling) windows.postMessage('lock');
    setTimeout(() => store.close(), WRITES_END_WITHIN);
    guard(person.id).catch(sayUnopened);
  }
  // The next look at what is stored, for the key, says that it is newer.
  const outgrown = () => lock({telling: false});
  return {
    lock: () => lock(),
    outgrown,
    changePassphrase: keys.changePassphrase,
    addPasskey: (passphrase) => keys.addPasskey(passphrase, {userId: person.id, name: person.name}),
    removePasskeys: keys.removePasskeys,
  };
}

// What the store of a newer app keeps from this window is said wherever it is met: see guardian and the frame.
function saidAlready(event) {
  if (event.reason instanceof StoreError && event.reason.code === 'newer') event.preventDefault();
}

function sayUnopened(failure) {
  // The other sentences of the store are about a save.
  if (failure?.code === 'newer') render(html`<${Start} reason="older" />`, root);
  else render(html`<${Start} reason="storage" message=${failure?.code === 'blocked' ? failure.message : ''} />`, root);
}

const withoutToken = ({csrf: _csrf, ...session}) => session;

function personIn({user, organisation}) {
  return {...user, organisation};
}

/** Who is signed in and what the service has switched on, as the last sync told it. */
function followSettings({store, engine, me, settings}) {
  let kept = null;
  engine.subscribe(async ({lastSyncedAt}) => {
    if (lastSyncedAt === kept) return;
    kept = lastSyncedAt;
    const session = await store.meta('session').catch(() => null);  // locked meanwhile
    if (session?.user?.id !== me.id) return;
    const before = JSON.stringify(settings);
    Object.assign(settings, settingsOf(personIn(session)));
    if (JSON.stringify(settings) !== before) await store.refreshCards().catch(() => {});  // so that every screen looks again
  });
}

function settingsOf(person) {
  const {early_warning: warning, reassessment, calendar} = person.organisation?.settings ?? {};
  return {early_warning: Boolean(warning), reassessment: reassessment ?? {}, calendar: calendar ?? {}};
}

/** Somebody else signed in on this phone: they get their own store, the first one's stays as it is. */
async function followSession(engine, person) {
  if (engine.status().phase !== 'sign_in') return;
  const {signedIn, session} = await askSession();
  if (!signedIn || session.user.id === person.id) return;
  await rememberPerson({id: session.user.id});
  location.reload();
}

start().catch(sayUnopened);
