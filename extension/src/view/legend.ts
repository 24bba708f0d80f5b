/** Names of the curves, which show and hide them. */

import { colourOf, dashOf } from '../model/palette.js';
import type { Line } from '../model/picture.js';
import { element, isDark, sample } from './element.js';
import { all, listen, type Dispose } from './listening.js';

/** What lies over the file itself, and may be taken away. */
export interface Over {
  name: string;
  remove: () => void;
}

/** A button for each name, and one for each file that was laid over. */
export function legendIn(
  host: HTMLElement,
  lines: readonly Line[],
  hidden: readonly boolean[],
  over: readonly Over[],
  toggle: (line: number, hidden: boolean) => void
): Dispose {
  const dark = isDark(host);
  const disposes: Dispose[] = [];
  const names = [...new Set(lines.map(line => line.name))];
  const buttons = names.map(name => {
    const members = Array.from(lines.keys()).filter(i => lines[i]?.name === name);
    const line = lines[members[0] ?? 0];
    const shown = String(members.some(i => !hidden[i]));
    const drawn = line
      ? [sample(colourOf(line.place, dark), dashOf(line.place), Math.max(line.width, 1.5))]
      : [];
    const button = element(
      'button',
      { type: 'button', class: 'sb-entry', 'aria-pressed': shown },
      ...drawn,
      name
    );
    disposes.push(
      listen(button, 'click', () => {
        const hide = button.getAttribute('aria-pressed') === 'true';
        button.setAttribute('aria-pressed', String(!hide));
        for (const i of members) {
          toggle(i, hide);
        }
      })
    );
    return button;
  });
  const removers = over.map(({ name, remove }) => {
    const button = element('button', { type: 'button', class: 'sb-remove' }, `Remove ${name}`);
    disposes.push(listen(button, 'click', remove));
    return button;
  });
  host.replaceChildren(...buttons, ...removers);
  return all(...disposes);
}
