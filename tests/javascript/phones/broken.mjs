// Rules of the browser's code, and how a person in a hurry might break them.

export const RULES = {
  'every verdict counts as sent': {
    file: '/store/reply.js', whole: 'if (SENT.has(verdict.verdict)) {', broken: 'if (verdict.verdict) {',
  },
};
