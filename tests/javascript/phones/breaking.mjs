// Breaks one rule of the browser's code on purpose, named by LINTEL_BROKEN: the text of a module is changed as it
// is loaded. The simulation must notice each.
import {registerHooks} from 'node:module';
import {RULES} from './broken.mjs';

const name = process.env.LINTEL_BROKEN;
const rule = name ? RULES[name] : null;
if (name && !rule) throw new Error(`no rule is called "${name}"`);
let met = !rule;

if (rule) {
  registerHooks({
    load(url, context, next) {
      const loaded = next(url, context);
      if (!url.endsWith(rule.file)) return loaded;
      const source = String(loaded.source);
      if (source.split(rule.whole).length !== 2) throw new Error(`"${name}" does not find its place in ${rule.file}`);
      met = true;
      return {...loaded, source: source.replace(rule.whole, () => rule.broken)};
    },
  });
}

export const isMet = () => met;
