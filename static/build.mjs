// Bundles the browser app into static/built/ under names that carry a hash of their content.
// The names go into built/manifest.json; the shell and the service worker's list are made from it.
import {existsSync} from 'node:fs';
import {mkdir, readFile, readdir, rename, rm, writeFile} from 'node:fs/promises';
import {basename, join} from 'node:path';
import {fileURLToPath} from 'node:url';
import {build} from 'esbuild';

const HERE = fileURLToPath(new URL('.', import.meta.url));
const BUILT = join(HERE, 'built');
const ENTRIES = ['app.js', 'account.js', 'app.css'];

/** @returns {Promise<import('esbuild').BuildResult>} */
const bundle = () => build({
  absWorkingDir: HERE,
  entryPoints: ENTRIES,
  outdir: BUILT,
  entryNames: '[name]-[hash]',
  assetNames: '[name]-[hash]',
  bundle: true,
  format: 'esm',
  target: ['es2022', 'chrome103', 'firefox115', 'safari16.4'],
  minify: true,
  sourcemap: false,
  charset: 'utf8',
  legalComments: 'none',
  external: ['/icons/*'],
  metafile: true,
  write: false,
  logLevel: 'warning',
});

/** Entry name -> hashed file name, such as {"app.js": "app-XYZ.js"}. */
const namesOf = (metafile) => Object.fromEntries(
  Object.entries(metafile.outputs)
    .filter(([, output]) => output.entryPoint)
    .map(([path, output]) => [output.entryPoint, basename(path)]),
);

// A name is taken by rename, so that a server reading at this moment never serves half a file.
async function writeWhole(name, contents) {
  const path = join(BUILT, name);
  if (existsSync(path) && Buffer.compare(await readFile(path), Buffer.from(contents)) === 0) return;
  const draft = `${path}.${process.pid}.part`;
  await writeFile(draft, contents);
  await rename(draft, path);
}

async function removeStale(keep) {
  const stale = (await readdir(BUILT)).filter((name) => !keep.has(name) && !name.endsWith('.part'));
  await Promise.all(stale.map((name) => rm(join(BUILT, name), {force: true})));
}

const result = await bundle();
const names = namesOf(result.metafile);
const files = result.outputFiles.map((file) => [basename(file.path), file.contents]);
await mkdir(BUILT, {recursive: true});
for (const [name, contents] of files) await writeWhole(name, contents);
await writeWhole('manifest.json', `${JSON.stringify(names, null, 2)}\n`);
await removeStale(new Set([...files.map(([name]) => name), 'manifest.json']));
process.stdout.write(`${files.map(([name, contents]) => `${name} ${contents.length} bytes`).join('\n')}\n`);
