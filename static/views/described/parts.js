/** What the described screens share: their frame, lines of items, what two people said differently. */
import {data, describedItems, describedKinds} from '../../clinical/index.js';
import {useStored} from '../app_context.js';
import {Frame} from '../frame.js';
import {html} from '../html.js';
import {judgeVisit} from '../judging.js';
import {knownEntriesOf} from '../kinds.js';
import {Missing} from '../missing.js';
import {isReadOnly} from '../read_only.js';
import {NotSaved, useSaving} from '../saving.js';
import {whoWords} from '../who.js';
import {begunIn, changeOf} from './form_state.js';
import {placeOf} from './place.js';
import {nameOf, sayEnded, sayValue} from './words.js';

/**
 * The frame of a section's screen, with what it needs once that is there.
 * @param {{client: string, visit?: string, section: string, next: (found: object) => unknown, children: (found: object) => unknown}} props
 */
export function SectionFrame({client, visit, section, next, children}) {
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    const entries = await knownEntriesOf(store, client);
    return card && {card, entries, client, readOnly: await isReadOnly(store, client), drafts: await store.draftKeys(), ...placeOf({client, visit}), judged: visit ? judgeVisit(entries, visit, settings) : null};
  }, [client, visit]);
  const {title, words} = data.described.sections.find(({id}) => id === section);
  const {back} = placeOf({client, visit});
  if (found === undefined) return html`<${Frame} title=${title} back=${back} />`;
  if (!found) return html`<${Missing} />`;
  return html`<${Frame} title=${title} back=${back} who=${whoWords(found.card)} next=${next(found)}>
    <div class="hero"><h1>${title}</h1><p class="soft">${words}</p></div>
    <${Differences} found=${found} section=${section} />
    <${Begun} found=${found} section=${section} />
    ${children(found)}
  <//>`;
}

/** The standing items of a kind, those that ended apart. @param {object[]} entries @param {string} kind */
export function itemsOf(entries, kind) {
  const items = describedItems(entries, kind);
  return {open: items.filter(({fields}) => !fields.ended), ended: items.filter(({fields}) => fields.ended)};
}

/** A line that leads to an item in a visit and only tells of it elsewhere. */
export function Line({href, lead, side, under}) {
  const content = html`<span class="lead"><bdi>${lead ?? 'Not on this phone yet'}</bdi></span>${side && html`<span class="side">${side}</span>`}
    ${[under].flat().filter(Boolean).map((words) => html`<span class="under"><bdi>${words}</bdi></span>`)}`;
  return href ? html`<a class="line" href=${href}>${content}</a>` : html`<div class="line">${content}</div>`;
}

/** What ended, folded away. */
export function Ended({kind, items, base, visit}) {
  if (items.length === 0) return null;
  return html`<details><summary>Ended: ${describedKinds[kind].many.toLowerCase()}</summary><ul class="lines">${items.map((item) => html`<li key=${item.item}>
    <${Line} href=${visit && `${base}/describe/${kind}/${item.item}`} lead=${item.fields.name} under=${[sayEnded(kind, item.fields.ended), item.fields.ended.note]} /></li>`)}</ul></details>`;
}

/** What was typed and not saved is a tap away. */
function Begun({found: {drafts, entries, client, visit, base}, section}) {
  const kinds = Object.keys(describedKinds).filter((kind) => describedKinds[kind].section === section);
  const begun = begunIn(drafts, {client, visit}, kinds);
  if (begun.length === 0) return null;
  return html`<section class="part"><h2>Begun, not saved</h2><ul class="lines">${begun.map(({kind, item}) => html`<li key=${kind + item}>
    <${Line} href=${`${base}/describe/${kind}${item && describedKinds[kind].shape !== 'single' ? `/${item}` : ''}`} lead=${describedKinds[kind].title}
      under=${begunWords(kind, item, entries)} /></li>`)}</ul></section>`;
}

/** What a half-done form is about, where it has a name. */
function begunWords(kind, item, entries) {
  const {shape, about, says} = describedKinds[kind];
  if (!item) return 'New';
  if (says !== 'name' && !about) return null;
  return shape === 'single' ? null : nameOf(entries, about ?? kind, item);
}

function Differences({found: {entries, client, visit, readOnly}, section}) {
  const kinds = Object.entries(describedKinds).filter(([, about]) => about.section === section && about.shape !== 'observation');
  return kinds.flatMap(([kind]) => describedItems(entries, kind).flatMap((item) => item.disagreements.map((each) => html`<${Difference}
    key=${`${item.item}/${each.field}`} item=${item} kind=${kind} disagreement=${each} entries=${entries} client=${client} visit=${visit} readOnly=${readOnly} />`)));
}

/** Two who had not seen each other's change: both are kept until a person says which is right. */
function Difference({item, kind, disagreement: {field, options}, entries, client, visit, readOnly}) {
  const {save, problem} = useSaving();
  const about = describedKinds[kind].fields.find(({id}) => id === field) ?? {id: 'ended', label: 'Ended'};
  const say = (value) => (value === null ? 'nothing' : field === 'ended' ? sayEnded(kind, value) : sayValue(about, value, entries));
  const settle = (value) => save({kind, schema: 1, client, visit, body: changeOf(kind, {[field]: value}, item)});
  return html`<section class="message attention"><h2>Two records differ: <bdi>${item.fields.name ?? describedKinds[kind].title}</bdi></h2>
    <p>${about.label}. Both are kept until somebody says which is right.</p><${NotSaved} problem=${problem} />
    <ul class="steps-apart">${options.map(({value, entry}) => html`<li key=${entry}><p><bdi>${say(value)}</bdi></p>
      ${!readOnly && html`<button type="button" class="secondary" onClick=${() => settle(value)}>This is right</button>`}</li>`)}</ul></section>`;
}
