/** Buttons above a chart. */

import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';

export interface Action {
  name: string;
  title: string;
  /** For a button that stays pressed: whether it is. */
  pressed?: boolean;
  /** What happens; for a button that stays pressed, with its new state. */
  act: (pressed: boolean) => void;
}

/** Groups of buttons. */
export function toolbarIn(host: HTMLElement, groups: readonly (readonly Action[])[]): Dispose {
  const disposes: Dispose[] = [];
  const made = groups.map(group =>
    element(
      'div',
      { class: 'sb-group' },
      ...group.map(({ name, title, pressed, act }) => {
        const state: Record<string, string> =
          pressed === undefined ? {} : { 'aria-pressed': String(pressed) };
        const button = element('button', { type: 'button', title, ...state }, name);
        disposes.push(
          listen(button, 'click', () => {
            const now = button.getAttribute('aria-pressed') !== 'true';
            if (pressed !== undefined) {
              button.setAttribute('aria-pressed', String(now));
            }
            act(now);
          })
        );
        return button;
      })
    )
  );
  host.append(...made);
  return all(...disposes);
}

/** A choice of what is drawn, if there is one. */
export function choiceIn(
  host: HTMLElement,
  of: readonly { name: string }[],
  chosen: number,
  choose: (i: number) => void
): Dispose {
  if (of.length < 2) {
    return () => undefined;
  }
  const options = of.map(({ name }, i) => element('option', { value: String(i) }, name));
  const choice = element('select', { 'aria-label': 'What is drawn' }, ...options);
  choice.selectedIndex = chosen;
  host.prepend(choice);
  const stop = listen(choice, 'change', () => {
    choose(choice.selectedIndex);
  });
  return all(stop, () => {
    choice.remove();
  });
}
