/** A described form inside a screen: restored from its draft, kept as a draft, checked, saved. */
import {useEffect, useRef, useState} from 'preact/hooks';
import {useApp} from '../app_context.js';
import {stillWrong} from '../forms/problems.js';
import {localDate} from '../format.js';
import {useSaving} from '../saving.js';
import {bodyFrom, draftKey, draftOf, rawFrom, shownFields, valuesOf, withDraft} from './form_state.js';

/**
 * @param {object} options
 * @param {string} options.kind  @param {string} options.client  @param {string|null} options.visit
 * @param {object|null} [options.item] as it stands, when it is changed  @param {string|null} [options.about]
 * @param {object} [options.initial] raw values a new one begins with
 * @param {string|null} [options.apart] keeps what is typed apart from other forms of the kind
 * @param {(body: object) => {field: string, code: string, message: string}[]} [options.alsoWrong] what only this screen can know
 * @param {() => void} options.onSaved
 */
export function useDescribedForm({kind, client, visit, item = null, about = null, initial, apart = null, alsoWrong = () => [], onSaved}) {
  const {store} = useApp();
  const key = draftKey({kind, client, visit, item: item?.item ?? about ?? apart});
  // As it stood when the form was opened: what a colleague changes meanwhile was not seen here, and must not seem so.
  const base = useRef(item && {...item});
  const [raw, setRaw] = useState(() => ({...rawFrom(kind, item?.fields), ...initial}));
  const [errors, setErrors] = useState([]);
  const typed = useRef({});
  const {save, problem} = useSaving();
  useEffect(() => {
    let current = true;
    store.draft(key).then((kept) => {
      if (!current || !kept || Object.keys(typed.current).length > 0) return;
      typed.current = kept;
      if (base.current) base.current = withDraft(base.current, kept);
      setRaw((now) => ({...now, ...valuesOf(kept)}));
    });
    return () => { current = false; };
  }, [key]);

  function read(values) {
    const {body, errors: found} = bodyFrom(kind, values, {item: base.current, about, today: localDate(new Date())});
    return {body, errors: found.length ? found : alsoWrong(body)};
  }
  function change(id, value) {
    typed.current = {...typed.current, [id]: draftOf(base.current, id, value)};
    const next = {...raw, [id]: value};
    setRaw(next);
    store.saveDraft(key, typed.current).catch(() => {});  // a full phone is told of when it is saved for good
    if (errors.length > 0) setErrors(stillWrong(errors, read(next).errors));
  }
  async function submit(event) {
    event.preventDefault();
    const {body, errors: found} = read(raw);
    setErrors(found);
    if (found.length) {
      focusOn(found[0].field);
      return;
    }
    if (!await save({kind, schema: 1, client, visit, body})) return;
    await store.dropDraft(key);
    onSaved();
  }
  return {raw, change, submit, problem, errors, shown: shownFields(kind, raw),
    errorOf: (id) => errors.find(({field}) => field === id)?.message ?? null};
}

function focusOn(field) {
  // After the error stands beside its field, so that it is read out with it.
  setTimeout(() => {
    const place = document.getElementById(`d-${field}`);
    place?.scrollIntoView({block: 'center'});
    place?.focus();
  });
}
