/** The published early-warning total, only where the service has switched it on, and only when it is whole. */
import {data, earlyWarning} from '../clinical/index.js';
import {html} from './html.js';

/** @param {{bodies: Record<string, object>, context: object}} props the visit's readings by measure */
export function EarlyWarning({bodies, context}) {
  if (!context.settings.early_warning) return null;
  const score = earlyWarning(bodies, context);
  return html`<section class="part"><h2>${data.early_warning.title}</h2>
    ${score.total !== null && html`<p class="figure number">${score.total}</p>`}
    <p>${score.because}</p>
    ${score.total !== null && html`<dl class="facts parts">${Object.entries(score.parts).map(([id, part]) => html`<div key=${id}>
      <dt>${part.label}</dt><dd class="number">${part.score}</dd></div>`)}</dl>`}
    <p class="soft">${score.excludes} ${score.acknowledgement}</p>
  </section>`;
}
