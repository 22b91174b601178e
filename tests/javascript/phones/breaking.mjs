// Breaks one rule of the browser's code on purpose, named by LINTEL_BROKEN: the text of its modules is changed as
// they are loaded. A change that does not find its place is an error, not a rule that holds.
import {registerHooks} from 'node:module';
import {RULES} from './broken.mjs';

const name = process.env.LINTEL_BROKEN;
const changes = RULES[name] ?? [];
if (name && !changes.length) throw new Error(`no rule is called "${name}"`);

function changed(url, text) {
  return changes.filter(([file]) => url.endsWith(file)).reduce((source, [file, whole, broken]) => {
    if (source.split(whole).length !== 2) throw new Error(`"${name}" does not find its one place in ${file}`);
    return source.replace(whole, () => broken);
  }, text);
}

registerHooks({
  load(url, context, next) {
    const loaded = next(url, context);
    return changes.some(([file]) => url.endsWith(file)) ? {...loaded, source: changed(url, String(loaded.source))} : loaded;
  },
});
