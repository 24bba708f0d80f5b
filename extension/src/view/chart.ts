/** Curves on two axes. The only file that knows uPlot. */

import uPlot from 'uplot';

import { colourOf, dashOf } from '../model/palette.js';
import type { Line } from '../model/picture.js';
import type { Curve } from '../model/payload.js';
import { heightRange, wholeRange, type Range } from '../model/scales.js';
import { number, tickLabels } from '../model/text.js';
import { isDark } from './element.js';
import { counted, type Dispose } from './listening.js';

export interface Layout {
  across: string;
  up: string;
  upSecond: string;
  logarithmic: boolean;
}

/** What a chart tells: it was drawn, a range was chosen in it, the pointer is at a place or has left. */
export interface Heard {
  drawn: () => void;
  chosen: (range: Range) => void;
  pointed: (at: number | null) => void;
}

export interface Chart {
  /** Lies over the plotting area, and may hold what belongs there. */
  over: HTMLElement;
  whole: () => Range;
  shown: () => Range;
  draw: (lines: readonly Line[], layout: Layout, hidden: boolean[]) => void;
  show: (range: Range) => void;
  hide: (line: number, hidden: boolean) => void;
  /** Put the cursor at a place; null takes it away. */
  point: (at: number | null) => void;
  toPixel: (value: number) => number;
  toValue: (clientX: number) => number;
  repaint: () => void;
  resize: (width: number, height: number) => void;
  dispose: Dispose;
}

const LETTER = 7; // px, roughly

/** A chart in an element, empty at first. */
export function chartIn(host: HTMLElement, heard: Heard): Chart {
  const over = document.createElement('div');
  over.className = 'sb-over';
  let plot: uPlot | undefined;
  let lines: readonly Line[] = [];
  let hidden: boolean[] = [];
  let layout: Layout = { across: '', up: '', upSecond: '', logarithmic: false };
  let whole: Range = [0, 1];
  let shown = whole;
  let size = { width: 400, height: 300 };
  let held: { at: number; left: number } | undefined; // where the cursor was put, and on which pixel that was
  let moved = false; // the cursor by us, not by the pointer
  let dark = false;

  const heights = (second: boolean): Range => {
    const visible = lines.filter((line, i) => line.second === second && !hidden[i]);
    const curves = visible.map(line => line.curve);
    return heightRange(curves, shown, layout.logarithmic);
  };
  const ink = () => getComputedStyle(host).color;
  const grid = () => getComputedStyle(host).getPropertyValue('--sb-grid').trim() || '#8888';
  const axis = (scale: string, label: string): uPlot.Axis => ({
    scale,
    label,
    labelSize: 20,
    labelFont: '12px system-ui, sans-serif',
    font: '11px system-ui, sans-serif',
    stroke: ink,
    grid: { stroke: grid, width: 1, show: scale !== 'second' },
    ticks: { stroke: grid, width: 1, size: 4 },
    ...(scale === 'x'
      ? { size: 30, gap: 3, values: (_, splits) => tickLabels(splits) }
      : {
          values: (_, splits) =>
            splits.map(value => ((value as number | null) === null ? '' : number(value))),
          size: (_, values) =>
            14 + LETTER * Math.max(2, ...((values as string[] | null) ?? []).map(one => one.length))
        })
  });
  const vertical = (second: boolean): uPlot.Scale => ({
    distr: layout.logarithmic ? 3 : 1,
    range: () => [...heights(second)]
  });

  const point = (at: number | null) => {
    const isSeen = at !== null && at >= shown[0] && at <= shown[1];
    const left = isSeen ? (plot?.valToPos(at, 'x') ?? -10) : -10;
    held = at === null ? undefined : { at, left };
    moved = true;
    plot?.setCursor({ left, top: 0 });
    moved = false;
  };

  const build = () => {
    plot?.destroy();
    held = undefined;
    dark = isDark(host);
    const two = lines.some(line => line.second);
    plot = new uPlot(
      {
        ...size,
        legend: { show: false },
        padding: [10, two ? 0 : 12, 0, 0],
        scales: {
          x: { time: false, range: () => [...shown] },
          first: vertical(false),
          second: vertical(true)
        },
        axes: [
          axis('x', layout.across),
          { ...axis('first', layout.up), side: 3 },
          ...(two ? [{ ...axis('second', layout.upSecond), side: 1 as const }] : [])
        ],
        series: [
          {},
          ...lines.map((line, i): uPlot.Series => ({
            scale: line.second ? 'second' : 'first',
            show: !hidden[i],
            stroke: () => colourOf(line.place, dark),
            width: line.width,
            dash: dashOf(line.place),
            points: { show: line.curve.x.length < 40, size: 5, width: line.width }
          }))
        ],
        cursor: {
          y: false,
          points: { show: false },
          drag: { x: true, y: false, setScale: false },
          bind: {
            mousedown: (_, __, handler) => event => {
              if (!event.shiftKey) {
                handler(event);
              }
              return null;
            },
            dblclick: () => () => {
              heard.chosen(whole);
              return null;
            }
          }
        },
        hooks: {
          draw: [heard.drawn],
          setCursor: [
            chart => {
              const left = chart.cursor.left ?? -1;
              if (held && !moved && left === held.left) {
                point(held.at); // nobody moved it: the chart was drawn in another range
              } else if (!moved) {
                held = undefined;
                heard.pointed(left < 0 ? null : chart.posToVal(left, 'x'));
              }
            }
          ],
          setSelect: [
            chart => {
              const { left, width } = chart.select;
              if (width > 2) {
                heard.chosen([chart.posToVal(left, 'x'), chart.posToVal(left + width, 'x')]);
                chart.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
              }
            }
          ]
        }
      },
      aligned(lines.map(line => line.curve)),
      host
    );
    plot.over.append(over);
  };

  return {
    over,
    whole: () => whole,
    shown: () => shown,
    draw: (given, how, unseen) => {
      const before = whole;
      [lines, layout, hidden] = [given, how, [...unseen]];
      whole = wholeRange(lines.map(line => line.curve));
      if (before[0] !== whole[0] || before[1] !== whole[1]) {
        shown = whole;
      }
      build();
    },
    show: range => {
      shown = range;
      plot?.setScale('x', { min: range[0], max: range[1] });
    },
    hide: (line, hide) => {
      hidden[line] = hide;
      plot?.setSeries(line + 1, { show: !hide });
    },
    point,
    toPixel: value => plot?.valToPos(value, 'x') ?? 0,
    toValue: clientX => plot?.posToVal(clientX - over.getBoundingClientRect().left, 'x') ?? NaN,
    repaint: () => {
      dark = isDark(host);
      plot?.redraw(false, true);
    },
    resize: (width, height) => {
      size = { width, height };
      plot?.setSize(size);
    },
    dispose: counted(() => {
      plot?.destroy();
      plot = undefined;
    })
  };
}

/** Curves in columns along one axis, as uPlot wants them; NaN becomes a gap. */
function aligned(curves: readonly Curve[]): uPlot.AlignedData {
  const [first] = curves;
  if (!first) {
    return [[]];
  }
  const columns = curves.map(({ y }) =>
    y.some(Number.isNaN) ? Array.from(y, value => (Number.isNaN(value) ? null : value)) : y
  );
  if (curves.every(({ x }) => x === first.x)) {
    return [first.x, ...columns] as uPlot.AlignedData;
  }
  return uPlot.join(curves.map(({ x }, i) => [x, columns[i]] as uPlot.AlignedData));
}
