/** What is due, in words that name the day. */
import {data} from '../../clinical/index.js';
import {sayDate} from '../format.js';

// Putting off a legal limit does not move it.
const putOffPast = ({due, limit, put_off: putOff}) => Boolean(putOff) && limit !== null && due > limit;
const toPutOff = ({due, limit}) => `Put off to ${sayDate(due)}, but the limit stays ${sayDate(limit)}`;

const STATES = {
  overdue: ({limit}) => `Overdue: was due by ${sayDate(limit)}`,
  due: ({due, limit}, today) => (due === today && limit === due ? 'Due today' : `Due now, by ${sayDate(limit)} at the latest`),
  open: ({due}) => (due ? `Can be done now, by ${sayDate(due)}` : 'Can be done at the next visit'),
  later: ({due}) => `By ${sayDate(due)}`,
  waiting: () => 'No day yet',
  away: ({due}) => (due ? `Away. By ${sayDate(due)} as it stands` : 'Away. The days wait'),
};

/** "Due today", "Overdue: was due by Tue 3 Mar" @param {object} item @param {string} today */
export function stateWords(item, today) {
  return ['open', 'later'].includes(item.state) && putOffPast(item) ? toPutOff(item) : STATES[item.state](item, today);
}

/** The same within a longer line: "Reassessment due today". @param {object} item @param {string} today */
export function roundWords(item, today) {
  const words = stateWords(item, today);
  return `Reassessment: ${words.slice(0, 1).toLowerCase()}${words.slice(1)}`;
}

/** Who set the rule, in a few words. @param {object} item */
export function ruleKind({rule, legal}) {
  if (rule.startsWith('own:')) return 'Rule for this client alone';
  return legal ? 'Legal limit' : 'The service’s own choice';
}

/** What an item is called: the rule's title, with the name of the goal or loan it is about. @param {object} item */
export const itemTitle = ({title, name}) => (name ? `${title}: ${name}` : title ?? 'Reassessment');

/** Why somebody is away, with the day: "Away since Tue 3 Mar: in hospital". @param {object} pause */
export function awayWords({from, reason}) {
  const {choices} = data.described.kinds.pause.fields.find(({id}) => id === 'reason');
  const label = choices.find(({id}) => id === reason)?.label;
  return `Away since ${sayDate(from)}${label ? `: ${label.slice(0, 1).toLowerCase()}${label.slice(1)}` : ''}`;
}

/** "Discharged Tue 3 Mar" @param {object} discharge */
export const dischargedWords = ({day}) => `Discharged ${sayDate(day)}`;

/** The heading of a group of the due list. @param {{title: string, monday?: string}} group */
export function groupTitle({title, monday}) {
  const titles = {overdue: 'Overdue', week: 'This week', next_week: 'Next week', waiting: 'No day yet', away: 'Away'};
  return titles[title] ?? `Week of ${sayDate(monday)}`;
}

/** "2 overdue, 1 due or open" @param {{item: {state: string}}[]} lines */
export function countWords(lines) {
  const of = (...states) => lines.filter(({item}) => states.includes(item.state)).length;
  const [over, due, open] = [of('overdue'), of('due'), of('open')];
  const parts = [over && `${over} overdue`, due && `${due} due`, open && `${open} can be done now`].filter(Boolean);
  return parts.length ? `${parts.join(', ')}.` : 'Nothing is due now.';
}
