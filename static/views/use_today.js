/** The day it is, on a screen that stays open past midnight or comes back the next morning. */
import {useEffect, useState} from 'preact/hooks';
import {localDate} from './format.js';

const LOOK_EVERY = 30_000;  // timers sleep with the phone; coming back into sight looks at once

/**
 * Calls back with each new day.
 * @param {(today: string) => void} tell
 * @param {{now?: () => Date, page?: EventTarget, timers?: {setInterval: Function, clearInterval: Function}}} [parts]
 * @returns {() => void} stops
 */
export function watchToday(tell, {now = () => new Date(), page = document, timers = globalThis} = {}) {
  let known = localDate(now());
  const look = () => {
    const today = localDate(now());
    if (today === known) return;
    known = today;
    tell(today);
  };
  const timer = timers.setInterval(look, LOOK_EVERY);
  page.addEventListener('visibilitychange', look);
  return () => {
    timers.clearInterval(timer);
    page.removeEventListener('visibilitychange', look);
  };
}

/** The device's local date as YYYY-MM-DD, and the next one when it comes. @returns {string} */
export function useToday() {
  const [today, setToday] = useState(() => localDate(new Date()));
  useEffect(() => watchToday(setToday), []);
  return today;
}
