import assert from 'node:assert/strict';
import {test} from 'node:test';
import {returningWords} from '../../../static/views/returning_note.js';

const rows = (returning, aside) => [...Array(returning).fill({state: 'returning'}), ...Array(aside).fill({state: 'aside'})];

test('what goes back by itself and what somebody must decide are counted apart', () => {
  assert.deepEqual(returningWords(rows(1, 0)).slice(1), ['1 entry of theirs on this phone goes back by the next sync. Keep this phone until then.']);
  assert.deepEqual(returningWords(rows(0, 3)).slice(1), ['3 entries of theirs were handed in and are kept aside. '
    + 'Tell whoever leads your team, who decides on “What devices handed in for a decision”.']);
  assert.equal(returningWords(rows(2, 1)).length, 3);
});
