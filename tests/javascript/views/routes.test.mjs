// Which screen stands at which path. The screens are only named here, never drawn.
import assert from 'node:assert/strict';
import {test} from 'node:test';
import {routeFor} from '../../../static/views/routes.js';

const at = (path) => {
  const {screen, params} = routeFor(path);
  return [screen.name, params];
};

test('each path has its screen and its ids', () => {
  assert.deepEqual(at('/app/'), ['Today', {}]);
  assert.deepEqual(at('/app/caseload'), ['Caseload', {}]);
  assert.deepEqual(at('/app/phone'), ['Phone', {}]);
  assert.deepEqual(at('/app/due'), ['DueList', {}]);
  assert.deepEqual(at('/app/reminders'), ['Reminders', {}]);
  assert.deepEqual(at('/app/client/c1/plan-visit'), ['PlaceVisit', {client: 'c1'}]);
  assert.deepEqual(at('/app/client/c1/visit/v1/reassessment'), ['Reassessment', {client: 'c1', visit: 'v1'}]);
  assert.deepEqual(at('/app/client/c1/describe/postponement/own.e1'), ['Describe', {client: 'c1', kind: 'postponement', item: 'own.e1'}]);
  assert.deepEqual(at('/app/client/c1'), ['Client', {client: 'c1'}]);
  assert.deepEqual(at('/app/client/c1/entry/e1'), ['Entry', {client: 'c1', entry: 'e1'}]);
  assert.deepEqual(at('/app/client/c1/entry/e1/correct'), ['Correct', {client: 'c1', entry: 'e1'}]);
  assert.deepEqual(at('/app/client/c1/visit/v1'), ['Visit', {client: 'c1', visit: 'v1'}]);
});

test('a step of a visit with a name of its own is not taken for a measure', () => {
  assert.equal(at('/app/client/c1/visit/v1/conclusion')[0], 'Conclusion');
  assert.equal(at('/app/client/c1/visit/v1/finish')[0], 'Finish');
  assert.deepEqual(at('/app/client/c1/visit/v1/pulse'), ['Measure', {client: 'c1', visit: 'v1', measure: 'pulse'}]);
});

test('a slash more or less makes no difference', () => {
  assert.deepEqual(at('/app'), at('/app/'));
  assert.deepEqual(at('/app/client/c1/'), at('/app/client/c1'));
});

test('a path nobody made says so instead of showing another screen', () => {
  for (const path of ['/', '/app/clients', '/app/client', '/app/client/c1/visit', '/app/client/c1/visit/v1/pulse/more', '/app/Caseload']) {
    assert.deepEqual(at(path), ['Missing', {}], path);
  }
});
