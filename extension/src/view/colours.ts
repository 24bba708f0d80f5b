/** Whether the colours of the page have changed: themes come late, and change. */

import { all, counted, listen, type Dispose } from './listening.js';

const LATER = [0, 100, 400, 1500]; // ms after which the colours are looked at again

/** Watch the theme around an element, by what comes of it. */
export function coloursOf(root: HTMLElement, changed: () => void): Dispose {
  const now = () => {
    const { color, backgroundColor } = getComputedStyle(root);
    return color + backgroundColor;
  };
  let painted = now();
  const timers = new Set<number>();
  const look = () => {
    if (painted !== now()) {
      painted = now();
      changed();
    }
  };
  const soon = () => {
    for (const wait of LATER) {
      const timer = window.setTimeout(() => {
        timers.delete(timer);
        look();
      }, wait);
      timers.add(timer);
    }
  };
  const observer = new MutationObserver(soon);
  const options = {
    attributes: true,
    attributeFilter: ['class', 'style', 'data-jp-theme-name', 'data-jp-theme-light']
  };
  observer.observe(document.documentElement, options);
  observer.observe(document.body, options);
  soon();
  return all(
    counted(() => {
      observer.disconnect();
    }),
    listen(window.matchMedia('(prefers-color-scheme: dark)'), 'change', soon),
    listen(document, 'load', soon, { capture: true }), // of a style sheet
    counted(() => {
      timers.forEach(timer => {
        window.clearTimeout(timer);
      });
    })
  );
}
