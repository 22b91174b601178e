/** Shapes that say a level without colour, always beside their word. */
import {html} from './html.js';

const SHAPES = {
  go_on: () => html`<circle cx="12" cy="12" r="8" fill="none" stroke="currentColor" stroke-width="2.5" />`,
  note: () => html`<path d="M4 12h16" stroke="currentColor" stroke-width="3" stroke-linecap="round" />`,
  take_care: () => html`<path d="M12 3 22 12 12 21 2 12Z" fill="none" stroke="currentColor" stroke-width="2.5" />
    <circle cx="12" cy="12" r="2.5" fill="currentColor" />`,
  stop_and_seek_advice: () => html`<path d="M3 3h18v18H3z" fill="currentColor" />
    <path d="M7 12h10" stroke="var(--paper)" stroke-width="3" />`,
  urgent_help: () => html`<path d="M2 4h20L12 22Z" fill="currentColor" />
    <path d="M12 8v5M12 16v1.5" stroke="var(--stop)" stroke-width="2.5" />`,
  unknown: () => html`<circle cx="12" cy="12" r="8" fill="none" stroke="currentColor" stroke-width="2.5" stroke-dasharray="3 3" />`,
};

/** @param {{level: string}} props */
export function LevelMark({level}) {
  const shape = SHAPES[level] ?? SHAPES.unknown;
  return html`<svg viewBox="0 0 24 24" aria-hidden="true">${shape()}</svg>`;
}

/** Something waits too long. */
export function Clock() {
  return html`<svg viewBox="0 0 24 24" aria-hidden="true">
    <circle cx="12" cy="12" r="9" fill="none" stroke="currentColor" stroke-width="2.5" />
    <path d="M12 6.5V12l4 3" fill="none" stroke="currentColor" stroke-width="2.5" />
  </svg>`;
}

/** The beam over a doorway. */
export function Beam() {
  return html`<svg viewBox="0 0 24 24" aria-hidden="true">
    <path d="M2 7h20" stroke="currentColor" stroke-width="4" />
    <path d="M6 9v12M18 9v12" stroke="currentColor" stroke-width="2.5" />
  </svg>`;
}
