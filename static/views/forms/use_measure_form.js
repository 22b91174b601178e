/** A measure's form inside a screen: loaded, restored from its draft, kept as a draft, checked. */
import {useEffect, useRef, useState} from 'preact/hooks';
import {useApp} from '../app_context.js';
import {html} from '../html.js';
import {createForm} from './controller.js';
import {loadForm} from './load.js';
import {stillWrong} from './problems.js';

const DRAFT_PAUSE = 400;

/**
 * @param {object} options
 * @param {object} options.measure
 * @param {string} options.draftKey under which what is typed is kept
 * @param {object} options.context of the judgement: precautions and what else the checks must know
 * @param {boolean} [options.guided] one step after the other
 * @param {object} [options.initial] raw values to begin with, when there is no draft (a correction)
 */
export function useMeasureForm({measure, draftKey, context, initial, guided}) {
  const {store} = useApp();
  const host = useRef(null);
  const control = useRef(null);
  const [version, setVersion] = useState(0);
  const [errors, setErrors] = useState([]);
  const [tries, setTries] = useState(0);
  const [failed, setFailed] = useState(null);
  const draft = useDraft(store, draftKey, control);

  useEffect(() => {
    let current = true;
    Promise.all([loadForm(measure.id), store.draft(draftKey)]).then(([element, kept]) => {
      if (!current) return;
      host.current.replaceChildren(element);
      control.current = createForm(element, measure, {context, guided, onChange({atOnce = false} = {}) {
        draft.changed(atOnce);
        setErrors((shown) => (shown.length > 0 ? stillWrong(shown, control.current.check().errors) : shown));
        setVersion((count) => count + 1);
      }});
      const values = kept ?? initial;
      if (values) control.current.restore(values);
      setVersion((count) => count + 1);
    }).catch((error) => current && setFailed(error.message));
    return () => { current = false; };
  }, [measure.id, draftKey]);

  function submit() {
    const {body, errors: found} = control.current.submit();
    setErrors(found);
    setTries((count) => count + 1);
    return body;
  }
  return {host, submit, errors, tries, failed, version, ready: control.current !== null, control,
    forgetDraft: () => draft.forget(), focus: (path) => control.current.focus(path)};
}

/** Keeps what is typed: shortly after a change, and at once when the screen is left or the phone locks. */
function useDraft(store, key, control) {
  const state = useRef({timer: 0, dirty: false, writing: Promise.resolve()});
  const keep = () => {
    clearTimeout(state.current.timer);
    if (!state.current.dirty || !control.current) return;
    state.current.dirty = false;
    const values = structuredClone(control.current.raw());
    // One after the other: sealing takes its time, and a draft must not come back after it was dropped.
    state.current.writing = state.current.writing.then(() => store.saveDraft(key, values)).catch(() => {});
  };
  useEffect(() => {
    const hidden = () => document.visibilityState === 'hidden' && keep();
    document.addEventListener('visibilitychange', hidden);
    window.addEventListener('pagehide', keep);
    return () => {
      keep();
      document.removeEventListener('visibilitychange', hidden);
      window.removeEventListener('pagehide', keep);
    };
  }, [key]);
  return {
    changed(atOnce) {
      // Not put off by further changes: whoever taps a pulse does not pause before the minute is over.
      if (!state.current.dirty) state.current.timer = setTimeout(keep, DRAFT_PAUSE);
      state.current.dirty = true;
      if (atOnce) keep();
    },
    forget() {
      clearTimeout(state.current.timer);
      state.current.dirty = false;
      return state.current.writing.then(() => store.dropDraft(key));
    },
  };
}

/** All errors on top, each a way to its field; focus goes there when saving failed. */
export function ErrorSummary({form}) {
  const box = useRef(null);
  useEffect(() => {
    if (form.errors.length > 0) box.current?.focus();
  }, [form.tries]);
  if (form.errors.length === 0) return null;
  return html`<div class="summary-errors" role="alert" tabindex="-1" ref=${box}>
    <h2>Before this can be saved</h2>
    <ul>${form.errors.map((error) => html`<li><a href=${`#f-${error.field}`} onClick=${(event) => {
      event.preventDefault();
      event.stopPropagation();
      form.focus(error.field);
    }}>${error.message}</a></li>`)}</ul>
  </div>`;
}
