// The ground behind the painting, and a look at the scan itself.

import { make, need } from "./need.js";

/** Middle of the encoded scale, so that equal faults show equally on lighter and darker paint. */
const GRAY = "#808080";

/** @typedef {"black"|"white"|"paper"|"gray"|"color"} Ground */

/**
 * @param {(ground: string) => void} changed what the module's draw takes: "#rrggbb", "paper" or "scan"
 */
export function grounds(changed) {
  const field = need("grounds");
  const picker = make("input", { type: "color", id: "ground-color", value: "#2f6f73", "aria-label": "Which color" });
  /** @type {{id: Ground, label: string, key: string, color: string}[]} */
  const all = [
    { id: "white", label: "White", key: "W", color: "#ffffff" },
    { id: "black", label: "Black", key: "B", color: "#000000" },
    { id: "gray", label: "Mid gray", key: "M", color: GRAY },
    { id: "paper", label: "Own paper", key: "O", color: "paper" },
    { id: "color", label: "A color", key: "C", color: "" },
  ];
  /** @type {Map<Ground, HTMLInputElement>} */
  const radios = new Map();
  for (const { id, label, key, color } of all) {
    const radio = make("input", { type: "radio", name: "ground", value: id, checked: id === "white", "aria-keyshortcuts": key });
    const swatch = make("span", { class: "swatch", id: `swatch-${id}`, "aria-hidden": true });
    if (color.startsWith("#")) swatch.style.background = color;
    radio.addEventListener("change", () => choose(id));
    radios.set(id, radio);
    field.append(make("label", { class: "ground" }, radio, swatch, label));
  }
  field.append(picker);

  const scan = need("see-scan");
  let held = false;
  const seen = () => held || scan.getAttribute("aria-pressed") === "true";
  scan.addEventListener("click", () => {
    scan.setAttribute("aria-pressed", String(scan.getAttribute("aria-pressed") !== "true"));
    tell();
  });
  picker.addEventListener("input", () => choose("color"));

  /** The chosen ground, in the words of the module. */
  function value() {
    if (seen()) return "scan";
    const id = /** @type {Ground} */ ([...radios].find(([, radio]) => radio.checked)?.[0] ?? "white");
    return id === "color" ? picker.value : (all.find((one) => one.id === id)?.color ?? "#ffffff");
  }

  function tell() {
    need("swatch-color").style.background = picker.value;
    changed(value());
  }

  /** @param {Ground} id */
  function choose(id) {
    const radio = radios.get(id);
    if (radio) radio.checked = true;
    scan.setAttribute("aria-pressed", "false");
    tell();
  }

  need("swatch-color").style.background = picker.value;
  return {
    value,
    choose,
    /** @param {boolean} hold shows the scan for as long as a key is down */
    holdScan(hold) {
      if (hold === held) return;
      held = hold;
      tell();
    },
    /** @param {[number, number, number]} color of the paper, for its swatch */
    paper(color) {
      need("swatch-paper").style.background = `rgb(${color.map(Math.round).join(" ")})`;
    },
  };
}
