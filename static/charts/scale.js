/** A thin horizontal scale as numbers: where the range, the target, the baseline and the value lie. */

/**
 * @param {{value: number, low?: number|null, high?: number|null, target?: {low?: number|null, high?: number|null}|null,
 *   baseline?: number|null}} facts
 * @param {number} width of the drawing
 * @returns {{at: (value: number) => number, from: number, to: number}} places in drawing units
 */
export function scaleFor(facts, width) {
  const marks = [facts.value, facts.low, facts.high, facts.target?.low, facts.target?.high, facts.baseline]
    .filter((mark) => mark !== null && mark !== undefined);
  const least = Math.min(...marks);
  const most = Math.max(...marks);
  const margin = Math.max((most - least) * 0.18, Math.abs(most) * 0.02, 0.5);
  const from = least - margin;
  const to = most + margin;
  return {from, to, at: (value) => ((value - from) / (to - from)) * width};
}
