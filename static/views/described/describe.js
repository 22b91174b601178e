/** Writing down something new, or how something goes today. */
import {useMemo} from 'preact/hooks';
import {changedReadings, data, describedItems, describedKinds, observations} from '../../clinical/index.js';
import {useApp, useStored} from '../app_context.js';
import {PutOffNote, RulePreview, itemOf, putOffWrong, rulesToChoose} from '../due/form_parts.js';
import {keyFrom, keySegment} from '../due/keys.js';
import {localDate, sayMoment} from '../format.js';
import {Frame} from '../frame.js';
import {html} from '../html.js';
import {judgeVisit} from '../judging.js';
import {knownEntriesOf} from '../kinds.js';
import {Missing} from '../missing.js';
import {NotSaved} from '../saving.js';
import {whoWords} from '../who.js';
import {EndItem} from './end_item.js';
import {Field} from './fields.js';
import {Line} from './parts.js';
import {placeOf, segment} from './place.js';
import {useDescribedForm} from './use_described_form.js';
import {ruleTitle, sayValue} from './words.js';

/** @param {{client: string, visit?: string, kind: string, item?: string}} props */
export function Describe({client, visit, kind, item}) {
  const found = useStored(async ({store, settings}) => {
    const card = await store.card(client);
    const entries = await knownEntriesOf(store, client);
    return card && {card, entries, judged: visit ? judgeVisit(entries, visit, settings) : null};
  }, [client, visit, kind, item]);
  const {base} = placeOf({client, visit});
  const about = Object.hasOwn(describedKinds, kind) ? describedKinds[kind] : null;
  const title = about?.title ?? 'Not found';
  const section = about && data.described.sections.find(({id}) => id === about.section);
  const back = {path: section ? `${base}/${segment(section.id)}` : base, name: section?.title ?? 'Back'};
  if (found === undefined) return html`<${Frame} title=${title} back=${back} />`;
  const thing = found && about && subjectOf(found.entries, about, kind, item);
  if (!thing) return html`<${Missing} />`;
  return html`<${Form} key=${`${kind}/${item}`} found=${found} place=${{client, visit: visit ?? null, back}} kind=${kind} thing=${thing} />`;
}

/** What a form is about: the item that changes, or the one that is observed; null when it is not here. */
function subjectOf(entries, about, kind, item) {
  if (about.shape === 'single') return {item: describedItems(entries, kind)[0] ?? null, about: null};
  if (isKeyed(about)) return item === undefined ? null : {item: null, about: null, key: keyFrom(item)};
  if (item === undefined) return about.about ? null : {item: null, about: null};
  const found = describedItems(entries, about.about ?? kind).find((each) => each.item === item);
  if (!found) return null;
  return about.about ? {item: null, about: found} : {item: found, about: null};
}

/** One that names what can be due, and is opened from there. */
const isKeyed = ({fields}) => fields.some(({type}) => type === 'key');

function Form({found: {card, entries, judged}, place: {client, visit, back}, kind, thing}) {
  const {go, settings} = useApp();
  const {reassessment: service} = settings;
  const about = describedKinds[kind];
  const putOff = useMemo(() => (thing.key ? itemOf(entries, thing.key, settings, localDate(new Date())) : null), [entries, thing.key]);
  const form = useDescribedForm({kind, client, visit, item: thing.item, about: thing.about?.item ?? null,
    initial: initialOf(kind, thing, judged), apart: thing.key && keySegment(thing.key), alsoWrong: (body) => (thing.key ? putOffWrong(putOff, body) : []), onSaved: () => go(back.path)});
  const heading = thing.about?.fields.name ?? (thing.key ? 'Put off' : null) ?? (thing.item ? thing.item.fields.name ?? about.title : `New: ${about.title.toLowerCase()}`);
  const words = kind === 'goal_review' ? levelWords(thing.about) : undefined;
  const ending = Boolean(thing.item && about.end_day && !thing.item.fields.ended);
  const end = thing.item && about.ends && html`<${EndItem} kind=${kind} item=${thing.item} place=${{client, visit, back}} />`;
  const fields = html`<form id="described" class="described" onSubmit=${form.submit} novalidate autocomplete="off">
      ${form.shown.filter(({id, type}) => type !== 'measures' || form.raw[id].length > 0).map((field) => html`<${Field} key=${field.id} field=${field} value=${form.raw[field.id]} error=${form.errorOf(field.id)}
        onChange=${(value) => form.change(field.id, value)} items=${itemsFor(entries, field, service, form.raw)} words=${field.type === 'key' ? ruleTitle(form.raw[field.id], entries, service) : field.choices_of === 'levels' ? words ?? levelWords({fields: form.raw}) : undefined} />`)}
      ${ending && html`<button type="submit" class="secondary">Save the change</button>`}
    </form>`;
  return html`<${Frame} title=${about.title} back=${back} who=${whoWords(card)}
    next=${html`<button type="submit" form=${ending ? 'end-item' : 'described'} class="primary">${ending ? about.ends[0].label : 'Save'}</button>`}>
    <div class="hero"><h1><bdi>${heading}</bdi></h1>${thing.about && html`<p class="soft">${about.title} today</p>`}</div>
    <${NotSaved} problem=${form.problem} />
    ${form.errors.some(({field}) => field === '') && html`<p class="message" role="alert">Nothing was changed yet.</p>`}
    ${thing.about && html`<${LastTime} kind=${kind} about=${thing.about.item} entries=${entries} visit=${visit} />`}
    ${kind === 'goal' && html`<${GoalHelp} />`}
    ${thing.key && html`<${PutOffNote} item=${putOff} />`}
    ${ending && end}
    ${ending ? html`<details><summary>Change what was written down</summary>${fields}</details>` : fields}
    ${kind === 'reassessment_rule' && html`<${RulePreview} raw=${form.raw} entries=${entries} />`}
    ${!ending && end}
    ${thing.about && html`<${Line} href=${`${placeOf({client, visit: visit ?? undefined}).base}/describe/${about.about}/${thing.about.item}`} lead=${`Change or end: ${thing.about.fields.name}`} />`}
  <//>`;
}

const changedMeasures = (judged) => [...new Set(changedReadings(judged.bodies, judged.context).map(({measure}) => measure))];

function initialOf(kind, {key}, judged) {
  if (key) return {due: key};
  return kind === 'plan_review' && judged ? {changed: changedMeasures(judged)} : undefined;
}

function itemsFor(entries, field, service, raw) {
  if (field.type === 'rules') return rulesToChoose(field.id, service, raw[field.id]);
  return field.type === 'item' ? describedItems(entries, field.of).filter(({fields}) => !fields.ended) : [];
}

/** What each level of a goal is, beside its number. */
const levelWords = (goal) => Object.fromEntries(data.goals.levels.map(({id, field}) => [id, goal?.fields[field] || undefined]));

function GoalHelp() {
  return html`<details><summary>Help with the words</summary><ul class="steps">${data.goals.words.help.map((line) => html`<li><span>${line}</span></li>`)}</ul></details>`;
}

/** Last time beside today, never filled in for today. */
function LastTime({kind, about, entries, visit}) {
  const last = observations(entries, kind, about).filter((each) => each.visit !== visit).at(-1);
  if (!last) return html`<p class="soft">Nothing was recorded about it at an earlier visit.</p>`;
  const fields = describedKinds[kind].fields.filter(({id}) => last.fields[id] !== undefined);
  return html`<section class="part"><h2>Last time</h2><p class="soft">${sayMoment(last.recorded_at)}</p>
    <dl class="facts">${fields.map((field) => html`<div><dt>${field.label}</dt><dd><bdi>${sayValue(field, last.fields[field.id], entries)}</bdi></dd></div>`)}</dl></section>`;
}
