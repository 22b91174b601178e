/** One judgement in words: shape, word, what it was read against, and why. */
import {sources} from '../clinical/index.js';
import {html} from './html.js';
import {LevelMark} from './marks.js';

const AGAINST = {
  adult_range: 'Adult range', target: 'Own target', baseline: 'Own baseline', last_time: 'Last time', caution: 'Caution',
};

/** What it was read against; nothing to be careful of is not headed as a caution. */
function against({against: what, level}) {
  return what === 'caution' && level === 'go_on' ? null : AGAINST[what];
}

/** @param {{finding: object}} props */
export function Finding({finding}) {
  const source = sources[finding.source];
  return html`<li class=${`finding level-${finding.level}`}>
    <${LevelMark} level=${finding.level} />
    <div>
      ${against(finding) && html`<span class="against">${against(finding)}</span>`}
      <span class="word">${finding.word}</span>
      <span>${finding.because}</span>
      <details>
        <summary>Why?</summary>
        ${finding.plain && html`<p>For the client:</p><blockquote>${finding.plain}</blockquote>`}
        <p class="soft">Rule ${finding.rule}. ${source ? sourceWords(source) : ''}</p>
      </details>
    </div>
  </li>`;
}

/** A source as a reader can look it up, with how surely its value is known. */
export function sourceWords(source) {
  return [source.title, source.year, source.status].filter(Boolean).join(', ') + '.';
}
