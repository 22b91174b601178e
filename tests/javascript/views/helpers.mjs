// Invented entries and cards, as small as a view can do with.
export const TODAY = '2026-11-25';
export const ME = 'therapist-one';

let made = 0;

/** An entry of one client; `seq` follows the order in which entries are made. */
export function entry(kind, body, more = {}) {
  made += 1;
  return {id: `e${String(made).padStart(4, '0')}`, kind, schema: 1, client: 'client-one', visit: null,
    recorded_at: `${TODAY}T09:40:00.000Z`, utc_offset: 0, author: ME, device: 'device-one', device_seq: made, amends: null,
    voids: null, reason: null, seq: made, body, ...more};
}

export const corrected = (original, body) => entry(original.kind, body,
  {visit: original.visit, amends: original.id, reason: 'Misread.'});

export const takenBack = (original) => entry(original.kind, {},
  {visit: original.visit, voids: original.id, reason: 'Wrong client.'});

export const pulse = (rate, more) => entry('pulse',
  {fields: {site: 'radial', rate, rhythm: 'regular', strength_0_to_3: '2'}, units: {}, technique: [], confirmed: []}, more);

/** A visit as a card has it. */
export const visit = (id, more = {}) => ({visit: id, date: TODAY, planned: null, started: null, conclusion: null,
  finished: null, measures: [], ...more});

export const planned = (id, {date = TODAY, time = '09:30', therapist = ME, ...more} = {}) => visit(id,
  {date, planned: {body: {date, time, therapist, minutes: 45, purpose: `Purpose of ${id}`}}, ...more});

export const card = (more = {}) => ({client: 'client-one', name: null, preferred_name: null, details: {}, precautions: [],
  last: {}, visits: [], ...more});
