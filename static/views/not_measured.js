/** A measure left out is recorded with its reason: missing is not the same as fine. */
import {useEffect, useState} from 'preact/hooks';
import {reasons} from '../clinical/index.js';
import {html} from './html.js';

/** @param {{measure: object, onSave: (body: object) => void, onCancel: () => void}} props */
export function NotMeasured({measure, onSave, onCancel}) {
  const [reason, setReason] = useState('');
  const [note, setNote] = useState('');
  const [problem, setProblem] = useState(null);
  useEffect(() => window.scrollTo(0, 0), []);
  const known = measure.not_measured.map((id) => ({id, label: reasons[id].label}));
  function save(event) {
    event.preventDefault();
    if (!reason) setProblem({field: 'reason', message: 'Choose why it was not measured.'});
    else if (reasons[reason].note_needed && !note.trim()) setProblem({field: 'note', message: 'Say in a few words why.'});
    else onSave({not_measured: {reason, note: note.trim()}});
  }
  return html`<form onSubmit=${save} novalidate autocomplete="off">
    <div class="hero"><h1>${measure.title} not measured</h1></div>
    <fieldset class="field">
      <legend>Why not?</legend>
      <div class="options">${known.map(({id, label}) => html`<label class="option">
        <input type="radio" name="reason" value=${id} checked=${reason === id} onChange=${() => setReason(id)} /><span>${label}</span></label>`)}</div>
      ${problem?.field === 'reason' && html`<p class="error" role="alert">${problem.message}</p>`}
    </fieldset>
    <div class="field">
      <label for="not-measured-note">In your words <span class="optional">if it helps</span></label>
      <textarea autocomplete="off" id="not-measured-note" rows="2" value=${note} onInput=${(event) => setNote(event.target.value)}></textarea>
      ${problem?.field === 'note' && html`<p class="error" role="alert">${problem.message}</p>`}
    </div>
    <button type="submit" class="primary">Record as not measured</button>
    <button type="button" class="quiet" onClick=${onCancel}>Back to the form</button>
  </form>`;
}
