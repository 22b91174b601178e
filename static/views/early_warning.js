/** The published early-warning total, only where the service has switched it on, and only when it is whole. */
import {earlyWarning, earlyWarningData, measures} from '../clinical/index.js';
import {useApp} from './app_context.js';
import {html} from './html.js';

/** @param {{context: object, byMeasure: object}} props */
export function EarlyWarning({context, facts}) {
  const {settings} = useApp();
  if (!settings.early_warning) return null;
  const score = earlyWarning(facts, context);
  return html`<section class="part"><h2>${earlyWarningData.title}</h2>
    ${score.total === null
    ? html`<p>No total: ${score.missing.map((id) => (measures[id]?.title ?? id).toLowerCase()).join(', ')} missing. A part is not shown as a whole.</p>`
    : html`<p class="figure-line"><span class="number">${score.total}</span></p><p>${score.words ?? ''}</p>`}
    <p class="soft">${earlyWarningData.excludes} ${earlyWarningData.acknowledgement}</p>
  </section>`;
}
