/** Whom a screen is about. */
import {ageNow} from './age.js';

/** Name and age stay in sight on every screen of a visit, against recording for the wrong person. */
export function whoWords(card) {
  const {name, preferred_name: called} = card;
  const age = ageNow(card);
  const who = called && !name.includes(called) ? `${called} (${name})` : name;
  return age === null ? who : `${who}, ${age}`;
}
