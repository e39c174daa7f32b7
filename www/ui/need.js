// The one way to reach an element of index.html.

/**
 * The element with this id. A missing one is a defect of the page and says so at once.
 * @template {typeof Element} [T=typeof HTMLElement]
 * @param {string} id
 * @param {T} [kind]
 * @returns {InstanceType<T>}
 */
export function need(id, kind) {
  const found = document.getElementById(id);
  const wanted = kind ?? /** @type {any} */ (HTMLElement);
  if (!(found instanceof wanted)) throw new Error(`index.html has no ${wanted.name} #${id}`);
  return /** @type {any} */ (found);
}

/**
 * A new element with properties and children.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, string|number|boolean>} [attributes] booleans: present or absent
 * @param {(Node|string)[]} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) element.setAttribute(name, "");
    else if (value !== false) element.setAttribute(name, String(value));
  }
  element.append(...children);
  return element;
}
