/** The thin scale under a reading. Its content is also said in words, so it is hidden from screen readers. */
import {scaleFor} from '../charts/scale.js';
import {html} from './html.js';

const WIDTH = 320;
const LINE = 26;

/**
 * @param {{value: string, low?: string|null, high?: string|null, target?: object|null, baseline?: string|null, level: string}} props
 */
export function Scale({value, low, high, target, baseline, level}) {
  const facts = {value: Number(value), low: number(low), high: number(high), baseline: number(baseline),
    target: target ? {low: number(target.low), high: number(target.high)} : null};
  const {at, from, to} = scaleFor(facts, WIDTH);
  const span = (one, other) => [at(one ?? from), at(other ?? to)];
  const [usualFrom, usualTo] = span(facts.low, facts.high);
  const tone = level === 'take_care' ? 'care' : WEIGHTY.has(level) ? 'stop' : '';
  return html`<svg class="scale" viewBox="-6 0 332 62" aria-hidden="true">
    <line class="axis" x1="0" x2=${WIDTH} y1=${LINE} y2=${LINE} />
    ${(facts.low !== null || facts.high !== null) && html`<line class="usual" x1=${usualFrom} x2=${usualTo} y1=${LINE} y2=${LINE} />`}
    ${facts.target && html`<rect class="target" x=${span(facts.target.low, facts.target.high)[0]} y=${LINE - 11} height="22" rx="4"
      width=${span(facts.target.low, facts.target.high)[1] - span(facts.target.low, facts.target.high)[0]} />`}
    ${facts.baseline !== null && html`<line class="baseline" x1=${at(facts.baseline)} x2=${at(facts.baseline)} y1=${LINE - 13} y2=${LINE + 13} />`}
    <circle class=${`point ${tone}`} cx=${at(facts.value)} cy=${LINE} r="8" />
    ${[facts.low, facts.high].filter((mark) => mark !== null).map((mark) => html`<text x=${at(mark)} y="58" text-anchor=${anchor(at(mark))}>${mark}</text>`)}
  </svg>`;
}

const WEIGHTY = new Set(['stop_and_seek_advice', 'urgent_help']);

function number(text) {
  return text === null || text === undefined ? null : Number(text);
}

function anchor(place) {
  if (place < 24) return 'start';
  return place > WIDTH - 24 ? 'end' : 'middle';
}
