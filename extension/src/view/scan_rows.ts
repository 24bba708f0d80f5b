/** A row for each scan: what was found of it, whether it is used, and if not, why. */

import { withReason, wordsOf, type LeftOut, type ScanRow } from '../model/scans.js';
import { element } from './element.js';
import { judged } from './judged.js';
import { all, listen, type Dispose } from './listening.js';
import { named } from './names.js';

export interface ScanRows {
  set: (rows: readonly ScanRow[], places: ReadonlyMap<number, number>) => void;
  leftOut: (now: LeftOut) => void;
  enable: (on: boolean) => void;
  dispose: Dispose;
}

interface Row {
  set: (row: ScanRow, place: number | undefined) => void;
  leftOut: (reason: string | undefined) => void;
  enable: (on: boolean) => void;
  dispose: Dispose;
}

const HEADS = ['use', 'scan', 'against the median', 'highest count', 'saturated', 'verdict'];

/** The table; `turned` hears what is to be left out, `lit` which scan somebody looks at. */
export function scanRowsIn(
  host: HTMLElement,
  turned: (leftOut: LeftOut) => void,
  lit: (number: number | undefined) => void
): ScanRows {
  const body = element('tbody', {});
  const heads = HEADS.map(name => element('th', { scope: 'col' }, name));
  const caption = element('caption', { class: 'sbl-unseen' }, 'Scans of the frame');
  const table = element(
    'table',
    { class: 'sbf-rows' },
    caption,
    element('thead', {}, element('tr', {}, ...heads)),
    body
  );
  host.append(table);
  let rows: Row[] = [];
  let stop: Dispose = () => undefined;
  let now: LeftOut = {};
  let isOn = true;
  const build = (count: number) => {
    stop();
    body.replaceChildren();
    rows = Array.from({ length: count }, (_, i) =>
      rowIn(
        body,
        i + 1,
        reason => {
          turned(withReason(now, i + 1, reason));
        },
        lit
      )
    );
    stop = all(...rows.map(row => row.dispose));
  };
  const tell = () => {
    rows.forEach((row, i) => {
      row.leftOut(now[String(i + 1)]);
    });
  };
  return {
    set: (given, places) => {
      if (given.length !== rows.length) {
        build(given.length);
        rows.forEach(row => {
          row.enable(isOn);
        });
      }
      given.forEach((row, i) => rows[i]?.set(row, places.get(row.number)));
      tell();
    },
    leftOut: given => {
      now = given;
      tell();
    },
    enable: on => {
      isOn = on;
      rows.forEach(row => {
        row.enable(on);
      });
    },
    dispose: () => {
      stop();
    }
  };
}

let made = 0;

function rowIn(
  body: HTMLElement,
  number: number,
  decided: (reason: string | null) => void,
  lit: (number: number | undefined) => void
): Row {
  const name = `scan ${String(number)}`;
  const use = element('input', { type: 'checkbox', 'aria-label': `use ${name}` });
  use.checked = true;
  const cells = HEADS.slice(2).map(() => element('td', {}));
  const head = element('th', { scope: 'row' }, name);
  const first = element('tr', {}, element('td', {}, use), head, ...cells);
  const id = `sbf-why-${String(++made)}`;
  const label = element('label', { for: id }, `why ${name} is left out`);
  const why = element('input', { id, type: 'text', required: '', maxlength: '160', autocomplete: 'off' });
  why.placeholder = 'what was seen, such as: the lamp flickered';
  const leave = element('button', { type: 'button' }, 'Leave out');
  const said = element('span', { class: 'sbl-units', role: 'status' });
  const field = element('td', { colspan: String(HEADS.length - 1) });
  field.append(element('div', { class: 'sbf-why' }, label, why, leave, said));
  const second = element('tr', { class: 'sbl-second', hidden: '' }, element('td', {}), field);
  body.append(first, second);
  let given: string | undefined; // why it is left out
  let isAsking = false;

  const show = () => {
    const isOut = given !== undefined;
    use.checked = !isOut && !isAsking;
    second.hidden = !isOut && !isAsking;
    first.classList.toggle('sbf-out', isOut);
    leave.textContent = isOut ? 'Change' : 'Leave out';
    if (!isAsking && document.activeElement !== why) {
      why.value = given ?? '';
    }
    if (!isAsking) {
      said.textContent = '';
      why.removeAttribute('aria-invalid');
    }
  };
  const decide = () => {
    const reason = why.value.trim();
    if (reason === '') {
      why.setAttribute('aria-invalid', 'true');
      said.textContent = 'a reason is needed: what was seen?';
      why.focus();
      return;
    }
    isAsking = false;
    if (reason !== given) {
      decided(reason);
    }
    if (document.activeElement === why || document.activeElement === leave) {
      use.focus();
    }
  };
  const dispose = all(
    listen(use, 'change', () => {
      if (use.checked) {
        isAsking = false;
        if (given !== undefined) {
          given = undefined;
          decided(null);
        }
        show();
        return;
      }
      isAsking = true;
      show();
      said.textContent = `${name} is used until you say why not`;
      why.focus();
    }),
    listen<KeyboardEvent>(why, 'keydown', event => {
      if (event.key === 'Enter') {
        event.preventDefault();
        decide();
      } else if (event.key === 'Escape') {
        isAsking = false;
        use.focus();
        show();
      }
    }),
    listen(leave, 'click', decide),
    ...(['pointerenter', 'focusin'] as const).map(type =>
      listen(first, type, () => {
        lit(number);
      })
    ),
    ...(['pointerleave', 'focusout'] as const).map(type =>
      listen(first, type, () => {
        lit(undefined);
      })
    )
  );
  return {
    set: (row, place) => {
      const [level, highest, saturated, verdict] = cells;
      head.replaceChildren(...(place === undefined ? [name] : [named(body, name, place)]));
      level?.replaceChildren(element('span', { class: 'sbf-number' }, row.level), ...quiet(row.noise));
      highest?.replaceChildren(element('span', { class: 'sbf-number' }, row.highest), ...quiet(row.share));
      saturated?.replaceChildren(row.saturated === '' ? 'none' : row.saturated);
      verdict?.replaceChildren(
        judged(row.verdict, wordsOf(row.verdict)),
        ...(row.reason === '' ? [] : [quietly(row.reason)])
      );
    },
    leftOut: reason => {
      given = reason;
      show();
    },
    enable: on => {
      use.disabled = why.disabled = leave.disabled = !on;
    },
    dispose
  };
}

function quiet(words: string): HTMLElement[] {
  return words === '' ? [] : [quietly(words)];
}

function quietly(words: string): HTMLElement {
  return element('span', { class: 'sbf-quiet' }, words);
}
