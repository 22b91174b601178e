// The vectors of tests/vectors/clinical in JavaScript, one test a case.
import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { test } from 'node:test';
import { answer } from './calls.mjs';

const folder = new URL('../../vectors/clinical/', import.meta.url);
const files = readdirSync(folder).filter((name) => name.endsWith('.json') && name !== 'vector.schema.json');

function differences(expected, actual, path = '') {
  if (Array.isArray(expected) && Array.isArray(actual) && expected.length === actual.length) {
    return expected.flatMap((part, at) => differences(part, actual[at], `${path}[${at}]`));
  }
  const plain = (value) => typeof value === 'object' && value !== null && !Array.isArray(value);
  if (plain(expected) && plain(actual)) {
    return Object.entries(expected).flatMap(([key, part]) => differences(part, actual[key], `${path}.${key}`));
  }
  const same = expected === (actual ?? null);
  return same ? [] : [`${path}: expected ${JSON.stringify(expected)}, got ${JSON.stringify(actual)}`];
}

for (const name of files) {
  for (const vectorCase of JSON.parse(readFileSync(new URL(name, folder), 'utf8'))) {
    test(`${name}: ${vectorCase.description}`, () => {
      const found = vectorCase.tests.flatMap(({ description, with: given, expected }) =>
        differences(expected, answer(vectorCase.call, { ...vectorCase.given, ...given }), description));
      assert.deepEqual(found, []);
    });
  }
}
