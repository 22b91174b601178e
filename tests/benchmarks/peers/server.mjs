// A general-purpose replication server on a port of the loopback: express-pouchdb over LevelDB or in memory.
//   node server.mjs PORT FOLDER leveldb|memory
import express from 'express';
import expressPouchDB from 'express-pouchdb';
import memory from 'pouchdb-adapter-memory';
import PouchDB from 'pouchdb';

const [port, folder, kind] = process.argv.slice(2);
PouchDB.plugin(memory);
const Kept = PouchDB.defaults(kind === 'memory' ? {adapter: 'memory'} : {prefix: `${folder}/`});
const app = express();
app.use('/', expressPouchDB(Kept, {
  mode: 'minimumForPouchDB', inMemoryConfig: true, logPath: `${folder}/log.txt`,
}));
app.listen(Number(port), '127.0.0.1', () => console.log('ready'));
