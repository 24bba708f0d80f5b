/** Tabs, of which one is open. */

import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';

export interface Tabs {
  panels: readonly HTMLElement[];
  open: (tab: number) => void;
  dispose: Dispose;
}

let made = 0;

/** A tab for each name, the first one open; arrow keys go from one to the next. */
export function tabsIn(host: HTMLElement, names: readonly string[], opened: (tab: number) => void): Tabs {
  const id = `sbl-${String(++made)}`;
  const tabs = names.map((name, i) =>
    element('button', { type: 'button', role: 'tab', id: `${id}-tab-${String(i)}` }, name)
  );
  const panels = names.map((_, i) =>
    element('div', { role: 'tabpanel', class: 'sbl-panel', 'aria-labelledby': `${id}-tab-${String(i)}` })
  );
  panels.forEach((panel, i) => {
    panel.id = `${id}-panel-${String(i)}`;
    tabs[i]?.setAttribute('aria-controls', panel.id);
  });
  let chosen = -1;
  const open = (tab: number) => {
    if (tab === chosen) {
      return;
    }
    chosen = tab;
    tabs.forEach((one, i) => {
      one.setAttribute('aria-selected', String(i === tab));
      one.tabIndex = i === tab ? 0 : -1;
    });
    panels.forEach((panel, i) => {
      panel.hidden = i !== tab;
    });
  };
  const go = (tab: number) => {
    open(tab);
    opened(tab);
  };
  open(0);
  const list = element('div', { role: 'tablist', class: 'sbl-tabs', 'aria-label': 'What is drawn' }, ...tabs);
  host.append(list, ...panels);
  const stop = all(
    ...tabs.map((one, i) =>
      listen(one, 'click', () => {
        go(i);
      })
    ),
    listen<KeyboardEvent>(list, 'keydown', event => {
      const way = { ArrowLeft: -1, ArrowRight: 1, Home: -chosen, End: tabs.length - 1 - chosen }[event.key];
      if (way !== undefined) {
        event.preventDefault();
        go((chosen + way + tabs.length) % tabs.length);
        tabs[chosen]?.focus();
      }
    })
  );
  return { panels, open, dispose: stop };
}
