/** The picture of daily life as numbers: for every chapter how many activities stand at each degree of difficulty. */

const LEFT = 36;
const STEP = 62;
const ROW = 92;
const TOP = 34;

/**
 * @typedef {{x: number, y: number, count: number, r: number}} Mark
 * @param {string[]} degrees of difficulty, one column each
 * @param {{chapter: string, label: string, now: Object<string, number>, before: Object<string, number>}[]} chapters
 * @returns {{width: number, height: number, columns: {id: string, x: number}[],
 *   rows: {label: string, top: number, line: number, now: Mark[], before: Mark[]}[]}} places in drawing units
 */
export function chapterPicture(degrees, chapters) {
  const columns = degrees.map((id, place) => ({id, x: LEFT + place * STEP}));
  const rows = chapters.map(({label, now, before}, place) => {
    const top = TOP + place * ROW;
    const line = top + 40;
    return {label, top: top + 16, line, now: marks(columns, now, line), before: marks(columns, before, line + 28)};
  });
  return {width: 2 * LEFT + (degrees.length - 1) * STEP, height: TOP + chapters.length * ROW, columns, rows};
}

/** More activities make a larger mark: its area grows with their number, up to what the row can hold. */
function marks(columns, counts, y) {
  return columns.filter(({id}) => counts[id] > 0)
    .map(({id, x}) => ({x, y, count: counts[id], r: Math.min(16, 9 + 2.5 * Math.sqrt(counts[id]))}));
}
