// Two devices that replicate with PouchDB, told by lines on standard input:
//   {"do": "begin", "url": ..., "docs": [...], "one": {...}, "down": [...], "up": [...]}
//                                 two empty devices; the first records the docs
//   {"do": "ready", "step": ...}  records what a step then moves; what comes down for `both` is pushed, too
//   {"do": "push"} {"do": "pull"} {"do": "one"} {"do": "both"}   answers with the milliseconds it took
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
  async begin({url, docs, one, down, up}) {
    here = {url, one, down, up, writer: device(), reader: device(), docs: docs.length};
    await record(here.writer, docs);
    await (await fetch(url, {method: 'PUT'})).text();
  },
  push: () => whole(here.writer.replicate.to(here.url), here.docs),
  pull: () => whole(here.reader.replicate.from(here.url), here.docs),
  one: () => whole(here.writer.replicate.to(here.url), 1),
  async both() {
    const {push, pull} = await here.reader.sync(here.url);
    await whole(push, here.up.length);
    await whole(pull, here.down.length + 1);
  },
  async ready({step}) {
    if (step === 'one') await record(here.writer, [here.one]);
    if (step !== 'both') return;
    await record(here.writer, here.down);
    await whole(here.writer.replicate.to(here.url), here.down.length);
    await record(here.reader, here.up);
  },
};

async function record(device, docs) {
  const made = await device.bulkDocs(docs);
  if (made.some((each) => each.error)) throw new Error('a document was not taken');
}

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
