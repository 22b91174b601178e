// Breaks one rule of the browser's code on purpose: modules asked for with "?broken=NAME" are a copy of the code of
// their own, whose text is changed as it is loaded. A change that does not find its place is an error, not a rule
// that holds.
import {registerHooks} from 'node:module';
import {RULES} from './broken.mjs';

const BROKEN = '?broken=';
const OURS = ['/static/', '/phones/'];
const SHARED = ['/node_modules/', '/phones/power.mjs'];  // nobody breaks these, and there is one power

const isOurs = (url) => OURS.some((part) => url.includes(part)) && !SHARED.some((part) => url.includes(part));
const ruleOf = (url) => decodeURIComponent(url?.split(BROKEN)[1] ?? '');

const changed = new Set();

function broken(name, url, text) {
  return RULES[name].filter(([file]) => url.endsWith(file)).reduce((source, change) => {
    const [file, whole, instead] = change;
    if (source.split(whole).length !== 2) throw new Error(`"${name}" does not find its one place in ${file}`);
    changed.add(change);
    return source.replace(whole, () => instead);
  }, text);
}

registerHooks({
  resolve(specifier, context, next) {
    const found = next(specifier, context);
    const name = ruleOf(context.parentURL);
    const goesOn = name && !ruleOf(found.url) && isOurs(found.url);
    return goesOn ? {...found, url: `${found.url}${BROKEN}${encodeURIComponent(name)}`} : found;
  },
  load(url, context, next) {
    const loaded = next(url, context);
    const name = ruleOf(url);
    return name ? {...loaded, source: broken(name, url.split(BROKEN)[0], String(loaded.source))} : loaded;
  },
});

/** The app's code with a rule broken; whole when the name is empty. @param {string} name */
export async function appWithout(name) {
  if (!name) return import('./app.mjs');
  if (!RULES[name]) throw new Error(`no rule is called "${name}"`);
  const app = await import(`./app.mjs${BROKEN}${encodeURIComponent(name)}`);
  const untouched = RULES[name].filter((change) => !changed.has(change)).map(([file]) => file);
  if (untouched.length) throw new Error(`"${name}" changed nothing in ${untouched}`);
  return app;
}
