/** A field to search names in, those that fit, and what is said of the chosen one. */

import { matching, pieces, sectionsOf, type PublicName, type Section } from '../model/names.js';
import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';

export interface Names {
  /** The names to search in. */
  show: (names: readonly PublicName[]) => void;
  /** Search for something; for what stands in the field, if nothing is given. */
  search: (query: string | undefined) => void;
  refuse: (message: string) => void;
  focus: () => void;
  dispose: Dispose;
}

const FAR = 10; // names that a page key moves
let made = 0; // so that no two elements share an id

/** A look-up in an element; `take` does something with a name and says what it did. */
export function namesIn(root: HTMLElement, take: (one: PublicName) => Promise<string>): Names {
  const id = `sb-finder-${String(++made)}`;
  const field = element('input', {
    type: 'search',
    role: 'combobox',
    'aria-label': 'Search functions',
    'aria-autocomplete': 'list',
    'aria-expanded': 'true',
    'aria-controls': id,
    placeholder: 'Search: band, cure depth, thickness…',
    spellcheck: 'false'
  });
  const list = element('ul', { class: 'sb-found', role: 'listbox', id, 'aria-label': 'Functions' });
  const about = element('section', { class: 'sb-about', 'aria-label': 'Documentation', tabindex: '0' });
  const insert = element('button', { type: 'button', class: 'sb-insert' }, 'Insert');
  const status = element('p', { class: 'sb-told', role: 'status' });
  let names: readonly PublicName[] = [];
  let found: PublicName[] = [];
  let chosen = 0;

  const choose = (place: number) => {
    chosen = Math.min(Math.max(place, 0), found.length - 1);
    Array.from(list.children).forEach((option, i) => {
      option.setAttribute('aria-selected', String(i === chosen));
    });
    const one = found[chosen];
    insert.hidden = about.hidden = one === undefined;
    if (one) {
      field.setAttribute('aria-activedescendant', `${id}-${String(chosen)}`);
      list.children[chosen]?.scrollIntoView({ block: 'nearest' });
      insert.title = `Put ${one.call} into the notebook in front (Enter)`;
      about.replaceChildren(...documentation(one));
      about.scrollTop = 0;
    } else {
      field.removeAttribute('aria-activedescendant');
    }
  };
  const search = () => {
    found = matching(names, field.value);
    list.replaceChildren(
      ...found.map(({ name, first }, i) =>
        element(
          'li',
          { role: 'option', id: `${id}-${String(i)}` },
          element('code', {}, name),
          element('span', {}, ...prose(first))
        )
      )
    );
    const count = found.length === 1 ? '1 function' : `${String(found.length)} functions`;
    status.textContent = names.length === 0 ? '' : found.length === 0 ? 'No function fits.' : count;
    choose(0);
  };
  const act = async () => {
    const one = found[chosen];
    if (one) {
      status.textContent = await take(one).catch((reason: unknown) => `Not done: ${String(reason)}`);
    }
  };
  const keys: Record<string, () => void> = {
    ArrowDown: () => {
      choose(chosen + 1);
    },
    ArrowUp: () => {
      choose(chosen - 1);
    },
    PageDown: () => {
      choose(chosen + FAR);
    },
    PageUp: () => {
      choose(chosen - FAR);
    },
    Enter: () => void act()
  };
  const placeOf = (event: Event) => {
    const option = (event.target as Element).closest('li');
    return option ? Array.from(list.children).indexOf(option) : -1;
  };
  const dispose = all(
    listen(field, 'input', search),
    listen<KeyboardEvent>(field, 'keydown', event => {
      const key = keys[event.key];
      if (key && !event.isComposing) {
        event.preventDefault();
        event.stopPropagation();
        key();
      }
    }),
    listen(list, 'mousedown', event => {
      event.preventDefault(); // the field keeps the focus
    }),
    listen(list, 'click', event => {
      const place = placeOf(event);
      if (place >= 0) {
        choose(place);
      }
    }),
    listen(list, 'dblclick', event => {
      if (placeOf(event) >= 0) {
        void act();
      }
    }),
    listen(insert, 'click', () => void act()),
    () => {
      root.replaceChildren();
    }
  );
  root.replaceChildren(field, list, element('div', { class: 'sb-take' }, insert, status), about);
  choose(0);
  return {
    show: given => {
      names = given;
      search();
    },
    search: query => {
      if (query !== undefined) {
        field.value = query;
      }
      search();
    },
    refuse: message => {
      list.replaceChildren();
      status.textContent = message;
    },
    focus: () => {
      field.focus();
      field.select();
    },
    dispose
  };
}

function documentation(one: PublicName): HTMLElement[] {
  return [
    element('h2', {}, element('code', {}, one.called)),
    element('p', {}, ...prose(one.first)),
    ...sectionsOf(one.docstring).flatMap(section => [
      ...(section.heading === '' ? [] : [element('h3', {}, section.heading)]),
      ...body(section)
    ])
  ];
}

function body(section: Section): HTMLElement[] {
  switch (section.kind) {
    case 'code':
      return [element('pre', {}, section.text)];
    case 'prose':
      return section.paragraphs.map(text => element('p', {}, ...prose(text)));
    case 'entries':
      return [
        element(
          'dl',
          {},
          ...section.entries.flatMap(({ term, text }) => [
            element('dt', {}, element('code', {}, term)),
            element('dd', {}, ...prose(text))
          ])
        )
      ];
  }
}

function prose(text: string): (Node | string)[] {
  return pieces(text).map((piece, i) => (i % 2 === 1 ? element('code', {}, piece) : piece));
}
