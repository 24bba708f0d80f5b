/** Whether a frame may be used, in a notebook: what anywidget loads. */

import { checkedOf, placesOf, scansOf, type LeftOut } from '../model/scans.js';
import { bytesOf } from '../model/strip.js';
import { element } from '../view/element.js';
import { frameVerdictIn } from '../view/frame_verdict.js';
import { all } from '../view/listening.js';
import { scanRowsIn } from '../view/scan_rows.js';
import { scansIn } from '../view/scans.js';
import { entryOf } from './shell.js';

interface Traits {
  left_out: LeftOut;
  scans: DataView | null;
  apart: DataView | null;
  check: Record<string, unknown>;
  state: string;
}

export default entryOf<Traits>('frame check', ({ get, turn }) => {
  const top = element('header', {});
  const picture = element('div', { class: 'sbl-picture' });
  const table = element('div', {});
  const below = element('div', {});
  const verdict = frameVerdictIn(top, below);
  const view = scansIn(picture);
  const rows = scanRowsIn(
    table,
    leftOut => {
      turn({ left_out: leftOut });
    },
    view.light
  );
  const check = () => {
    const checked = checkedOf(get('check'));
    if (checked) {
      const places = placesOf(checked.scans);
      verdict.set(checked);
      rows.set(checked.scans, places);
      view.places(places);
    }
  };
  return {
    nodes: [top, picture, table, below],
    paint: {
      scans: () => {
        const data = bytesOf(get('scans'));
        if (data) {
          view.set(scansOf(data));
        }
      },
      apart: () => {
        const data = bytesOf(get('apart'));
        if (data) {
          view.apart(scansOf(data));
        }
      },
      check,
      left_out: () => {
        rows.leftOut(get('left_out'));
      }
    },
    pictures: ['scans', 'apart'],
    enable: rows.enable,
    repaint: () => {
      view.repaint();
      check();
    },
    dispose: all(view.dispose, rows.dispose)
  };
});
