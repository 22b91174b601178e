// Two devices that replicate with PouchDB, told by lines on standard input:
//   {"do": "begin", "url": ..., "docs": [...], "one": {...}}   two empty devices; the first records the docs
//   {"do": "push"} {"do": "pull"} {"do": "one"}                answers with the milliseconds it took
import {createInterface} from 'node:readline';
import {performance} from 'node:perf_hooks';
import memory from 'pouchdb-adapter-memory';
import PouchDB from 'pouchdb';

PouchDB.plugin(memory);
let number = 0;
let here;

const device = () => {
  number += 1;
  return new PouchDB(`device-${number}`, {adapter: 'memory'});
};

const actions = {
  async begin({url, docs, one}) {
    here = {url, one, writer: device(), reader: device(), docs: docs.length};
    const made = await here.writer.bulkDocs(docs);
    if (made.some((each) => each.error)) throw new Error('a document was not taken');
    await (await fetch(url, {method: 'PUT'})).text();
  },
  push: () => whole(here.writer.replicate.to(here.url), here.docs),
  pull: () => whole(here.reader.replicate.from(here.url), here.docs),
  async one() {
    await here.writer.put(here.one);
    return whole(here.writer.replicate.to(here.url), 1);
  },
};

async function whole(replication, expected) {
  const {docs_written: written, errors} = await replication;
  if (written !== expected || errors.length) throw new Error(`${written} of ${expected} written`);
}

for await (const line of createInterface({input: process.stdin})) {
  const {do: what, ...facts} = JSON.parse(line);
  const start = performance.now();
  await actions[what](facts);
  console.log(JSON.stringify({milliseconds: performance.now() - start}));
}
