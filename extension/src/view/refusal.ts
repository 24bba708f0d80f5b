/** Why a file is not shown, with its lines. */

import { cutAt, type Refusal } from '../model/faults.js';
import { element } from './element.js';

/** The server's message, then each line that it speaks of with the fault marked. */
export function refusal(name: string, { message, faults, lines }: Refusal): HTMLElement {
  const rows = lines.map(({ line, text }) => {
    const here = faults.filter(fault => fault.line === line);
    const [before, found, after] = cutAt(text, here.find(fault => cutAt(text, fault)[1] !== text) ?? here[0]);
    const told = faults.length > 1 ? here : []; // of one fault, the message says it all
    const advice = told.map(fault =>
      [`expected ${fault.expected ?? ''}`, fault.advice].filter(Boolean).join('. ')
    );
    return element(
      'div',
      { class: 'sb-line' },
      element('span', { class: 'sb-number' }, `line ${String(line)}`),
      element('code', {}, before, element('mark', {}, found), after),
      ...advice.map(words => element('span', { class: 'sb-advice' }, words))
    );
  });
  return element(
    'div',
    { class: 'sb-refusal', role: 'alert' },
    element('h2', {}, `${name} is not shown`),
    element('p', {}, message),
    ...rows
  );
}
