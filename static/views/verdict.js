/** One of the four conclusions, large, with what to do. */
import {conclusions} from '../clinical/index.js';
import {html} from './html.js';
import {LevelMark} from './marks.js';

/** @param {{level: string}} props */
export function Verdict({level}) {
  const {label, words, do: steps} = conclusions[level];
  return html`<section class=${`verdict level-${level}`}>
    <p class="said"><${LevelMark} level=${level} /><span>${label}</span></p>
    <p>${words}</p>
    <ul class="steps">${steps.map((step) => html`<li>${step}</li>`)}</ul>
  </section>`;
}
