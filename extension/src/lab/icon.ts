/** Our icons: a curve over its axis, and the same on a bench. */

import { LabIcon } from '@jupyterlab/ui-components';

export const icon = new LabIcon({
  name: 'spectralbench:spectrum',
  svgstr: `<svg xmlns="http://www.w3.org/2000/svg" width="16" height="16" viewBox="0 0 16 16">
  <g fill="none" stroke-width="1.4" stroke-linejoin="round">
    <path class="jp-icon3" stroke="#616161" d="M1.5 1.5v13h13"/>
    <path class="jp-icon3" stroke="#616161" d="M3.5 12c3 0 2.6-8 4.2-8s1.2 6 2.8 6 1 2 3.5 2"/>
  </g>
</svg>`
});

export const benchIcon = new LabIcon({
  name: 'spectralbench:bench',
  svgstr: `<svg xmlns="http://www.w3.org/2000/svg" width="16" height="16" viewBox="0 0 16 16">
  <g fill="none" stroke-width="1.4" stroke-linejoin="round" stroke-linecap="round">
    <path class="jp-icon3" stroke="#616161" d="M1 11.5h14M3 11.5v3M13 11.5v3"/>
    <path class="jp-icon3" stroke="#616161" d="M2.5 9c3 0 2.8-7 5.2-7s1.6 5 3 5 1.2 2 2.8 2"/>
  </g>
</svg>`
});
