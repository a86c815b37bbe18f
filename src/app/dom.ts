/** Making elements, and figures for people. */

type Attributes = Record<string, string | number | boolean | undefined | ((event: Event) => void)>;
export type Child = Node | string | undefined | false;

function fill<E extends Element>(element: E, attributes: Attributes, children: readonly Child[]): E {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, '');
    else if (value !== undefined && value !== false) element.setAttribute(name, String(value));
  }
  element.append(...children.filter((c): c is Node | string => c !== undefined && c !== false));
  return element;
}

/** An HTML element; an attribute that is a function listens (`onclick`, `oninput`). */
export const h = <K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] => fill(document.createElement(tag), attributes, children);

/** An SVG element. */
export const svg = <K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): SVGElementTagNameMap[K] => fill(document.createElementNS('http://www.w3.org/2000/svg', tag), attributes, children);

/** The element that the page must have. */
export function byId<E extends HTMLElement>(id: string, kind: new () => E): E {
  const found = document.getElementById(id);
  if (!(found instanceof kind)) throw new Error(`the page lacks #${id}`);
  return found;
}

/** A hidden field whose `click()` asks for files. It need not be on the page. */
export function filePicker(label: string, accept: string, multiple: boolean, take: (files: readonly File[]) => void): HTMLInputElement {
  const picker = h('input', { type: 'file', accept, multiple, class: 'visually-hidden', tabindex: -1, 'aria-label': label });
  picker.addEventListener('change', () => {
    const files = [...(picker.files ?? [])];
    picker.value = '';
    if (files.length > 0) take(files);
  });
  return picker;
}

/** Sets an element's children without moving those that stay: who types in one of them goes on typing. */
export function setChildren(host: Element, children: readonly Node[]): void {
  for (const child of [...host.childNodes]) if (!children.includes(child)) child.remove();
  let at = host.firstChild;
  for (const child of children) {
    if (child === at) at = at.nextSibling;
    else host.insertBefore(child, at);
  }
}

/** A measured length: two decimals, a true minus sign. */
export const figure = (x: number, decimals = 2): string => (Number.isFinite(x) ? x.toFixed(decimals).replace('-', '−') : '–');

/** A number as a person types it, with a comma or a true minus sign; NaN for anything else. */
export const typed = (text: string): number => (text.trim() === '' ? Number.NaN : Number(text.trim().replace(',', '.').replace('−', '-')));

export const capital = (s: string): string => s.charAt(0).toUpperCase() + s.slice(1);

/** A sentence that ends as one. */
export const sentence = (s: string): string => (s === '' || /[.!?]$/.test(s) ? capital(s) : `${capital(s)}.`);

export const percent = (x: number): string => `${Math.round(100 * Math.max(0, Math.min(1, x)))} %`;

/** Does the user want less motion? */
export const still = (): boolean => matchMedia('(prefers-reduced-motion: reduce)').matches;
