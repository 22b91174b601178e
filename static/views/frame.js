/** The frame of every screen: where one is on top, what is next and what is saved at the bottom. */
import {useEffect, useRef} from 'preact/hooks';
import {useApp, useSyncStatus} from './app_context.js';
import {html} from './html.js';
import {Beam, Clock} from './marks.js';
import {OlderNote} from './older_note.js';
import {ReminderOffer} from './reminders/offer.js';
import {syncSentence} from './sync_words.js';

const PLACES = [
  {path: '/app/', name: 'Today'},
  {path: '/app/due', name: 'Due'},
  {path: '/app/caseload', name: 'Caseload'},
  {path: '/app/phone', name: 'Phone'},
];

/**
 * @param {object} props
 * @param {string} props.title for the window and for a screen reader
 * @param {{path: string, name: string}} [props.back]
 * @param {unknown} [props.who] the client this screen is about
 * @param {unknown} [props.next] the next step, within the thumb's reach
 * @param {string} [props.place] path of the place this screen is; shows the places at the bottom
 * @param {boolean} [props.two] two panes on a wide screen
 */
export function Frame({title, back, who, next, place, two, children}) {
  const main = useRef(null);
  useEffect(() => {
    document.title = `${title} · Lintel`;
    main.current?.focus({preventScroll: true});
    window.scrollTo(0, 0);
  }, [title]);
  return html`<div class="frame">
    <header class="top">
      ${back ? html`<a class="back" href=${back.path}>‹ ${back.name}</a>`
        : html`<span class="mark"><${Beam} />Lintel</span>`}
      ${who && html`<span class="who"><bdi>${who}</bdi></span>`}
    </header>
    <main class=${two ? 'page two' : 'page'} ref=${main} tabindex="-1"><${OlderNote} /><${ReminderOffer} />${children}</main>
    <footer class="foot"><div class="foot-inner">
      ${next && html`<div class="next">${next}</div>`}
      <${StatusLine} />
      ${place && html`<${Places} current=${place} />`}
    </div></footer>
  </div>`;
}

function Places({current}) {
  return html`<nav class="places" aria-label="Places">
    ${PLACES.map(({path, name}) => html`<a href=${path} aria-current=${path === current ? 'page' : undefined}>${name}</a>`)}
  </nav>`;
}

/** What is on this phone, what waits, what needs attention: on every screen, in the same place. */
function StatusLine() {
  const status = useSyncStatus();
  const {words, attention, late} = syncSentence(status);
  const kind = late ? 'status late' : attention ? 'status attention' : 'status';
  return html`<p role="status"><a class=${kind} href="/app/phone">${late && html`<${Clock} />`}<span>${words}</span></a></p>`;
}

/** A button that goes to another screen. @param {{path: string, kind?: string}} props */
export function GoButton({path, kind = 'primary', children}) {
  const {go} = useApp();
  return html`<button type="button" class=${kind} onClick=${() => go(path)}>${children}</button>`;
}
