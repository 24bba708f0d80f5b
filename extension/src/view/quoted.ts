/** What parts pass at some wavelengths, which somebody chooses; and what the figures do not know. */

import { columnOf } from '../model/comparison.js';
import { cellsOf, withWavelength, type Quoted } from '../model/passed.js';
import { numberOf } from '../model/typed.js';
import { element } from './element.js';
import { all, listen, type Dispose } from './listening.js';
import { fieldOf } from './typed.js';

export interface QuotedView {
  set: (quoted: Quoted) => void;
  /** Whether it was a wavelength typed here that was refused, which is then said beside its field. */
  refused: (words: string) => boolean;
  enable: (on: boolean) => void;
  dispose: Dispose;
}

/** The table; `chosen` hears at which wavelengths figures are wanted. */
export function quotedIn(host: HTMLElement, chosen: (wavelengths: number[]) => void): QuotedView {
  let stop: Dispose = () => undefined;
  let now: number[] = [];
  let isOn = true;
  const head = element('tr', {});
  const body = element('tbody', {});
  const caption = element('caption', { class: 'sbl-unseen' }, 'Transmittance at chosen wavelengths');
  const table = element('table', { class: 'sbt-quoted' }, caption, element('thead', {}, head), body);
  let wanted: number | undefined; // and neither in the table nor refused yet
  let told = ''; // why it was refused
  const field = fieldOf('another wavelength, in nm', {}, () => undefined);
  const { box: more } = field;
  const add = element('button', { type: 'button' }, 'Add');
  const adding = element('div', { class: 'sbl-fields' }, 'another wavelength', more, 'nm', add, field.words);
  const cautions = element('ul', { class: 'sbl-cautions', 'aria-label': 'Cautions' });
  const limits = element('ul', {});
  const folded = element(
    'section',
    { class: 'sbt-limits', 'aria-label': 'What this does not know' },
    element('h3', {}, 'What this does not know'),
    limits
  );
  host.append(table, adding, cautions, folded);
  const asked = () => {
    const { value, said } = more.value.trim() === '' ? { said: '' } : numberOf(more.value);
    const isThere = value !== undefined && now.includes(value);
    field.say(isThere ? `${String(value)} nm is in the table already` : said);
    wanted = isThere ? undefined : value;
    if (value !== undefined && !isThere) {
      chosen(withWavelength(now, value));
    }
  };
  const heard = all(
    listen(add, 'click', asked),
    listen<KeyboardEvent>(more, 'keydown', event => {
      if (event.key === 'Enter') {
        event.preventDefault();
        asked();
      }
    }),
    field.dispose
  );
  const buttons = () => [...body.querySelectorAll('button')];
  return {
    set: quoted => {
      const focused = buttons().indexOf(document.activeElement as HTMLButtonElement);
      stop();
      now = quoted.rows.map(row => row.wavelength);
      if (wanted !== undefined && now.includes(wanted)) {
        wanted = undefined;
        field.show(null);
        field.say('');
      }
      const columns = cellsOf(quoted);
      const widths = columns.map(columnOf);
      const heads = quoted.columns.map(({ label, told }) =>
        element('th', { scope: 'col' }, label, element('span', { class: 'sbl-interval' }, told))
      );
      head.replaceChildren(element('th', { scope: 'col' }, 'at'), ...heads);
      const rows = quoted.rows.map((row, i) => {
        const name = `without ${row.told}`;
        const remove = element('button', { type: 'button', class: 'sbl-more', 'aria-label': name }, '×');
        remove.disabled = !isOn;
        const cells = columns.map((column, k) => {
          const { words = '', whole = '', decimals = '', units = '', interval = '' } = column[i] ?? {};
          const wide = (count: number) => `width: ${String(count)}ch`;
          const value = element(
            'span',
            { class: 'sbl-value' },
            element('span', { class: 'sbl-whole', style: wide(widths[k]?.whole ?? 0) }, whole),
            element('span', { class: 'sbl-decimals', style: wide(widths[k]?.decimals ?? 0) }, decimals),
            ` ${units}`
          );
          const shown = words === '' ? value : element('span', { class: 'sbl-words' }, words);
          return element('td', {}, shown, element('span', { class: 'sbl-interval' }, interval));
        });
        const heardHere = listen(remove, 'click', () => {
          chosen(now.filter(one => one !== row.wavelength));
        });
        const node = element('tr', {}, element('th', { scope: 'row' }, remove, row.told), ...cells);
        return { node, heardHere };
      });
      stop = all(...rows.map(row => row.heardHere));
      body.replaceChildren(...rows.map(row => row.node));
      if (focused >= 0) {
        (buttons()[Math.min(focused, buttons().length - 1)] ?? more).focus();
      }
      cautions.hidden = quoted.cautions.length === 0;
      cautions.replaceChildren(...quoted.cautions.map(one => element('li', {}, one)));
      limits.replaceChildren(...quoted.limits.map(one => element('li', {}, one)));
    },
    refused: words => {
      const isHere = words !== '' && (wanted !== undefined || words === told);
      told = isHere ? words : '';
      wanted = isHere ? undefined : wanted;
      field.say(told);
      return isHere;
    },
    enable: on => {
      isOn = on;
      more.disabled = add.disabled = !on;
      buttons().forEach(button => {
        button.disabled = !on;
      });
    },
    dispose: all(heard, () => {
      stop();
    })
  };
}
