/** Elements of a page, made from what they are. */

type Child = Node | string;

/** An element with attributes and children. */
export function element<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Record<string, string>,
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

const SVG = 'http://www.w3.org/2000/svg';

/** A short piece of a line, as a legend shows it. */
export function sample(colour: string, dash: readonly number[], width: number): SVGElement {
  const drawn = document.createElementNS(SVG, 'svg');
  const line = document.createElementNS(SVG, 'path');
  const looks = {
    d: 'M1 6H31',
    fill: 'none',
    stroke: colour,
    'stroke-width': String(width),
    'stroke-dasharray': dash.join(' ')
  };
  for (const [name, value] of Object.entries(looks)) {
    line.setAttribute(name, value);
  }
  drawn.setAttribute('viewBox', '0 0 32 12');
  drawn.setAttribute('class', 'sb-sample');
  drawn.setAttribute('aria-hidden', 'true');
  drawn.append(line);
  return drawn;
}

/** Whether an element lies on a dark page, by the nearest background that is not transparent. */
export function isDark(of: Element): boolean {
  for (let at: Element | null = of; at; at = at.parentElement) {
    const channels = (getComputedStyle(at).backgroundColor.match(/[\d.]+/g) ?? []).map(Number);
    const [red = 255, green = 255, blue = 255, opacity = 1] = channels;
    if (opacity > 0) {
      return 0.2126 * red + 0.7152 * green + 0.0722 * blue < 128;
    }
  }
  return false;
}

/** Give a file to whoever sits before the browser. */
export function save(name: string, content: Blob): void {
  const url = URL.createObjectURL(content);
  element('a', { href: url, download: name }).click();
  window.setTimeout(() => {
    URL.revokeObjectURL(url);
  }, 10_000);
}
