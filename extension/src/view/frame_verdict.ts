/** Whether a frame may be used, in words; and what it was held against. */

import { wordsOf, type Checked, type Criterion } from '../model/scans.js';
import { element } from './element.js';
import { judged } from './judged.js';

export interface FrameVerdict {
  set: (checked: Checked) => void;
}

/** Title and verdict in one element, the limits in another. */
export function frameVerdictIn(host: HTMLElement, below: HTMLElement): FrameVerdict {
  const line = element('p', { class: 'sbf-verdict', role: 'status' });
  const reasons = element('ul', { class: 'sbf-reasons', 'aria-label': 'Why' });
  const mean = element('p', { class: 'sbf-mean' });
  host.append(line, reasons);
  const body = element('tbody', {});
  const heads = ['held against', 'found', 'limit', 'where the limit comes from'].map(name =>
    element('th', { scope: 'col' }, name)
  );
  const table = element(
    'table',
    { class: 'sbf-limits' },
    element('caption', { class: 'sbl-unseen' }, 'What the frame is held against'),
    element('thead', {}, element('tr', {}, ...heads)),
    body
  );
  const code = element('code', {});
  const manifest = element('p', { class: 'sbf-manifest' }, 'for bench.toml: ', code);
  below.append(mean, manifest, table);
  return {
    set: checked => {
      line.replaceChildren(
        judged(checked.verdict, wordsOf(checked.verdict)),
        element('span', {}, checked.title)
      );
      reasons.replaceChildren(...checked.reasons.map(reason => element('li', {}, reason)));
      mean.textContent = checked.mean;
      manifest.hidden = !checked.scans.some(scan => scan.verdict === 'left out');
      code.textContent = checked.manifest;
      body.replaceChildren(...checked.figures.map(row));
    }
  };
}

function row({ title, found, limit, standing, judged: verdict }: Criterion): HTMLElement {
  return element(
    'tr',
    {},
    element('th', { scope: 'row' }, judged(verdict, title), unseen(wordsOf(verdict))),
    element('td', {}, found),
    element('td', {}, limit),
    element('td', { class: 'sbf-quiet' }, standing)
  );
}

/** Words for those who do not see the mark. */
function unseen(words: string): HTMLElement {
  return element('span', { class: 'sbl-unseen' }, `, ${words}`);
}
