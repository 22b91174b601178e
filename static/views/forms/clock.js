/** Times read off the clock, never counted in ticks: they survive a locked screen, a rotation and a reload. */
import {useEffect, useState} from 'preact/hooks';

/**
 * Whole seconds left until so many have passed since a moment; none when they have.
 * @param {number} startedAt  @param {number} seconds  @param {number} now  all but seconds in milliseconds
 */
export function secondsLeft(startedAt, seconds, now) {
  // A clock set back must not make the wait longer than it is.
  return Math.min(seconds, Math.max(0, Math.ceil((startedAt + seconds * 1000 - now) / 1000)));
}

/** Whole seconds since a moment. @param {number} startedAt  @param {number} now */
export function secondsSince(startedAt, now) {
  return Math.max(0, Math.floor((now - startedAt) / 1000));
}

/** A stopwatch's time as it is entered, to a tenth: "12.4", "12". @param {number} milliseconds @returns {string} */
export function inTenths(milliseconds) {
  const tenths = Math.max(0, Math.round(milliseconds / 100));
  return `${Math.floor(tenths / 10)}${tenths % 10 ? `.${tenths % 10}` : ''}`;
}

/** "4:05" for 245 seconds. @param {number} seconds */
export function minutesAndSeconds(seconds) {
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
}

/** The time now, looked at again and again while something runs. @param {boolean} running @param {number} every */
export function useNow(running, every = 200) {
  const [now, setNow] = useState(Date.now());
  useEffect(() => {
    if (!running) return undefined;
    setNow(Date.now());
    const timer = setInterval(() => setNow(Date.now()), every);
    return () => clearInterval(timer);
  }, [running, every]);
  return now;
}
