/** What the buttons above a chart do. */

import type { Picture } from '../model/picture.js';
import type { Part } from '../model/table.js';
import type { Chart } from './chart.js';
import { copyCode, saveCsv, savePng, saveSvg } from './exports.js';
import type { Frame } from './frame.js';
import type { Source } from './layers.js';
import { middle, zoom } from './moving.js';
import type { Range } from '../model/scales.js';
import type { Action } from './toolbar.js';

export interface Acts {
  logarithmic: (on: boolean) => void;
  show: (range: Range) => void;
  picture: () => Picture;
  /** What leaves as a table. */
  parts: () => Part[];
  /** Where the files lie. */
  places: () => string[];
}

/** The buttons in their groups. */
export function actions({ aside, status }: Frame, source: Source, chart: Chart, acts: Acts): Action[][] {
  const { picture, show } = acts;
  const zoomBy = (closer: boolean) => {
    show(zoom(chart, closer, middle(chart)));
  };
  return [
    [
      { name: 'Log axis', title: 'Logarithmic vertical axis', pressed: false, act: acts.logarithmic },
      {
        name: '+',
        title: 'Zoom in (key +)',
        act: () => {
          zoomBy(true);
        }
      },
      {
        name: '−',
        title: 'Zoom out (key −)',
        act: () => {
          zoomBy(false);
        }
      },
      {
        name: 'Whole range',
        title: 'Show the whole range (key 0)',
        act: () => {
          show(chart.whole());
        }
      }
    ],
    [
      {
        name: 'Copy as code',
        title: 'Copy the Python lines that read what is shown',
        act: () => {
          void copyCode(acts.places()).then(text => {
            status.textContent = text;
          });
        }
      },
      {
        name: 'PNG',
        title: 'Save the picture in pixels',
        act: () => {
          void savePng(source.name, picture());
        }
      },
      {
        name: 'SVG',
        title: 'Save the picture as a drawing',
        act: () => {
          saveSvg(source.name, picture());
        }
      },
      {
        name: 'CSV',
        title: 'Save the curves in the shown range as a table',
        act: () => {
          saveCsv(source.name, acts.parts(), chart.shown());
        }
      }
    ],
    [
      {
        name: 'Figures and file',
        title: 'Show or hide what stands beside the chart',
        pressed: true,
        act: on => {
          aside.hidden = !on;
        }
      }
    ]
  ];
}
