// The browser's data is what index.json lists, and an unknown operator is an error, never a silent false.
import assert from 'node:assert/strict';
import { readdirSync } from 'node:fs';
import { test } from 'node:test';
import { data, evaluate } from '../../../static/clinical/index.js';

const folder = new URL('../../../static/clinical/', import.meta.url);

test('every file that index.json lists is loaded, and no file lies unlisted', () => {
  assert.deepEqual(Object.keys(data).toSorted(), [...data.index.files, 'index', 'measures'].toSorted());
  assert.deepEqual(Object.keys(data.measures), data.index.measures);
  const json = (where) => readdirSync(new URL(where, folder)).filter((name) => name.endsWith('.json'));
  assert.deepEqual(json('.').toSorted(), [...data.index.files, 'index'].map((name) => `${name}.json`).toSorted());
  assert.deepEqual(json('measures').toSorted(), data.index.measures.map((name) => `${name}.json`).toSorted());
});

test('an unknown operator is an error, an inherited name too', () => {
  assert.throws(() => evaluate({ near: ['x', '1'] }, {}), /unknown operator near/);
  assert.throws(() => evaluate({ all: [{ constructor: ['x', '1'] }] }, {}), /unknown operator/);
});

test('every expression of the data evaluates without facts, to unknown or a plain answer', () => {
  for (const measure of Object.values(data.measures)) {
    const shown = [...measure.fields, ...measure.technique].map((part) => part.shown ?? true);
    for (const expression of [...measure.rules.map((rule) => rule.when), ...measure.checks.map((check) => check.unless), ...shown]) {
      assert.ok([true, false, null].includes(evaluate(expression, {})));
    }
    assert.deepEqual(measure.rules.filter((rule) => evaluate(rule.when, {}) === true), []);
  }
});
