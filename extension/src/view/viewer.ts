/** A file as a whole: buttons, legend, chart, band with figures, and what is known of the file. */

import type { Choices } from '../model/choices.js';
import type { Curve, Spectra } from '../model/payload.js';
import type { Range } from '../model/scales.js';
import { axisLabel, position, told } from '../model/text.js';
import { overlaid, recordOf, side, viewsOf, type View } from '../model/views.js';
import { actions } from './actions.js';
import { chartIn } from './chart.js';
import { details, warnings } from './details.js';
import { frameIn } from './frame.js';
import { linesOf, namesOf, partsOf, readAt, relaid, secondSide, type Layer, type Source } from './layers.js';
import { legendIn } from './legend.js';
import { all, counted, type Dispose } from './listening.js';
import { measuringIn } from './measuring.js';
import { HINT, movable } from './moving.js';
import { choiceIn, toolbarIn } from './toolbar.js';

export interface Viewer {
  /** Show the file as it is now, and others by their paths; zoom and band stay where they can. */
  update: (spectra: Spectra, over?: ReadonlyMap<string, Spectra>) => void;
  /** Lay another file over this one. */
  add: (source: Source, spectra: Spectra) => void;
  /** Say that something was refused. */
  refuse: (message: string) => void;
  /** Draw again in other colours. */
  repaint: () => void;
  /** Go by other choices, in their colours; the band follows if it is another one. */
  prefer: (choices: Choices) => void;
  /** The files that lie over this one. */
  over: () => Source[];
  dispose: Dispose;
}

const NOTHING = 'This file holds nothing that is drawn as a curve.';

export interface Hears {
  /** The chart has been painted. */
  drawn: () => void;
  /** A file is another one by now than what is shown. */
  changed: () => void;
}

/** Show a file in an element. */
export function viewerIn(
  root: HTMLElement,
  source: Source,
  given: Spectra,
  wished: Choices,
  { drawn, changed }: Hears
): Viewer {
  const frame = frameIn(root);
  const { bar, notes, notice, names, plot, status, known } = frame;
  const layers: Layer[] = [];
  const hidden = new Set<Curve>();
  let legend: Dispose = () => undefined;
  let choice: Dispose = () => undefined;
  let logarithmic = false;
  let painted = '';
  let choices = wished;

  const base = () => layers[0]?.view;
  const visible = () => linesOf(layers).filter(line => !hidden.has(line.curve));
  const colours = () => getComputedStyle(root).color + getComputedStyle(root).backgroundColor;
  const labels = () => {
    const view = base();
    return {
      across: view ? axisLabel(view.axis.name, view.axis.units, view.axis.since) : '',
      up: view ? side(view) : '',
      upSecond: secondSide(layers) ?? ''
    };
  };
  const read = (at: number | null) => {
    const shown = visible();
    status.textContent = readAt(shown, at) ?? (shown.length > 0 ? HINT : status.textContent);
  };
  const show = (range: Range) => {
    chart.show(range);
  };
  const chart = chartIn(plot, {
    drawn: () => {
      measuring.place();
      drawn();
    },
    chosen: show,
    pointed: read
  });
  const measuring = measuringIn(frame.figures, chart, layers, () => choices, changed);
  const { measure } = measuring;

  const draw = () => {
    const lines = linesOf(layers);
    const unseen = lines.map(line => hidden.has(line.curve));
    plot.hidden = names.hidden = lines.length === 0;
    status.textContent = lines.length === 0 ? NOTHING : HINT;
    painted = colours();
    chart.draw(lines, { ...labels(), logarithmic }, unseen);
    legend();
    const called = namesOf(layers);
    const over = layers.slice(1).map((layer, i) => ({
      name: called[i + 1] ?? '',
      remove: () => {
        layers.splice(layers.indexOf(layer), 1);
        draw();
        measure();
      }
    }));
    legend = legendIn(names, lines, unseen, over, (i, hide) => {
      const curve = lines[i]?.curve;
      if (curve) {
        hidden[hide ? 'add' : 'delete'](curve);
        chart.hide(i, hide);
      }
    });
    plot.setAttribute('aria-label', described());
  };
  const described = () => {
    const view = base();
    const [low, high] = chart.whole().map(end => position(end, view?.axis.units ?? ''));
    return told(record(), view?.quantity ?? '', linesOf(layers).length, `${low ?? ''} to ${high ?? ''}`);
  };
  const record = () => recordOf((layers[0]?.spectra ?? given).records, base()?.block ?? null);
  const describe = (spectra: Spectra) => {
    notes.replaceChildren(...warnings(spectra));
    known.replaceChildren(...details(spectra.records[0], record()));
  };
  const choose = (spectra: Spectra, view: View | undefined, over?: ReadonlyMap<string, Spectra>) => {
    const anew = view ? relaid({ source, spectra, view }, layers.slice(1), over) : [];
    layers.splice(0, layers.length, ...anew);
    draw();
    describe(spectra);
    measure();
  };
  const update = (spectra: Spectra, over?: ReadonlyMap<string, Spectra>) => {
    const views = viewsOf(spectra);
    const kept = Math.max(
      views.findIndex(view => view.name === base()?.name),
      0
    );
    choice();
    choice = choiceIn(bar, views, kept, i => {
      choose(spectra, views[i]);
    });
    refuse('');
    choose(spectra, views[kept], over);
  };

  const resized = new ResizeObserver(() => {
    if (plot.clientWidth > 0 && plot.clientHeight > 0) {
      chart.resize(plot.clientWidth, plot.clientHeight);
    }
  });
  resized.observe(plot);
  const later = requestAnimationFrame(() => {
    if (painted !== colours()) {
      draw(); // the colours of the page came after the first picture
    }
  });
  const dispose = all(
    () => {
      cancelAnimationFrame(later);
      legend();
      choice();
    },
    counted(() => {
      resized.disconnect();
    }),
    toolbarIn(
      bar,
      actions(frame, source, chart, {
        logarithmic: on => {
          logarithmic = on;
          draw();
        },
        show,
        picture: () => ({
          ...labels(),
          title: source.name,
          lines: visible(),
          range: chart.shown(),
          logarithmic
        }),
        parts: () => partsOf(layers, hidden),
        places: () => layers.map(layer => layer.source.place)
      })
    ),
    movable(plot, chart, () => visible()[0]?.curve.x ?? new Float64Array(), {
      show,
      point: at => {
        chart.point(at);
        read(at);
      }
    }),
    measuring.dispose,
    chart.dispose,
    () => {
      root.replaceChildren();
    }
  );
  const refuse = (message: string) => {
    notice.hidden = message === '';
    notice.textContent = message;
  };
  update(given);
  return {
    update,
    add: (other, spectra) => {
      const view = base();
      const found = layers.some(layer => layer.source.path === other.path)
        ? 'it is shown already'
        : view
          ? overlaid(view, spectra, secondSide(layers))
          : 'there is no chart to lay it over';
      if (typeof found === 'string') {
        refuse(`${other.name} is not laid over this chart: ${found}.`);
      } else {
        refuse('');
        layers.push({ source: other, spectra, view: found });
        draw();
        measure();
      }
    },
    refuse,
    repaint: draw,
    prefer: now => {
      const moved = now.low !== choices.low || now.high !== choices.high;
      choices = now;
      draw();
      if (moved) {
        measuring.choose();
      }
    },
    over: () => layers.slice(1).map(layer => layer.source),
    dispose
  };
}
