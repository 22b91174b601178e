// Start: whoever used this phone last gets the app at once, with or without a network; then sync begins.
import {clientCard, dataVersion} from './clinical/index.js';
import {currentPerson, knownPeople, openStore, rememberPerson, requestPersistence} from './store/index.js';
import {askSession, createEngine} from './sync/engine.js';
import {registerWorker} from './sync/update.js';
import {localDate} from './views/format.js';
import {html, render} from './views/html.js';
import {rememberInstallOffer} from './views/install_note.js';
import {sortByVersion} from './views/kinds.js';
import {Shell} from './views/shell.js';
import {Start} from './views/start.js';

// Raised by hand when the card's shape changes, so that cards made by an older app are made anew.
const CARD_SHAPE = 2;

const root = document.getElementById('app');

async function start() {
  rememberInstallOffer();
  registerWorker().catch(() => {});  // private windows may refuse a worker; the app still works with a signal
  const person = await currentPerson();
  if (person) await openFor(person);
  else await greet();
}

/** Nobody is known on this phone yet: the server says who has signed in. */
async function greet() {
  const {signedIn, session} = await askSession();
  if (signedIn) await welcome(session);
  else render(html`<${Start} reason=${signedIn === null ? 'offline' : 'sign_in'} empty=${(await knownPeople()).length === 0} />`, root);
}

async function welcome(session) {
  const person = personIn(session);
  await rememberPerson(person);
  await requestPersistence();
  await openFor(person);
}

function personIn({user, organisation}) {
  return {...user, organisation};
}

// From what this version can read; a record of newer entries alone is still this client's.
const cardOf = (entries, client) => ({...clientCard(sortByVersion(entries).known, localDate(new Date())), client});

async function openFor(person) {
  const store = await openStore(person.id, {project: cardOf, projectVersion: `${dataVersion}/${CARD_SHAPE}`});
  const engine = createEngine({store});
  engine.subscribe(() => followSession(store, engine, person));
  const app = {store, engine, me: person, settings: settingsOf(person)};
  let kept = null;
  engine.subscribe(({lastSyncedAt}) => {
    if (lastSyncedAt === kept) return;
    kept = lastSyncedAt;
    keepSession(app);
  });
  await engine.recall();
  render(html`<${Shell} app=${app} />`, root);
  await engine.start();
}

/** Who is signed in and what the service has switched on, as the last sync told it. */
async function keepSession({store, me, settings}) {
  const session = await store.meta('session');
  if (session?.user?.id !== me.id) return;
  await rememberPerson(personIn(session));
  Object.assign(settings, settingsOf(personIn(session)));
}

function settingsOf(person) {
  return {early_warning: Boolean(person.organisation?.settings?.early_warning)};
}

/** Somebody else signed in on this phone: they get their own store, the first one's stays as it is. */
async function followSession(store, engine, person) {
  if (engine.status().phase !== 'sign_in') return;
  const {signedIn, session} = await askSession();
  if (!signedIn || session.user.id === person.id) return;
  await rememberPerson(personIn(session));
  location.reload();
}

start();
