// The ways a file comes onto the page: dropped anywhere, chosen, or pasted.

/** @param {File} file */
export const isRecipe = (file) => /\.json$/i.test(file.name) || file.type === "application/json";

/**
 * @param {object} hooks
 * @param {(files: File[]) => void} hooks.take
 * @param {(over: boolean) => void} hooks.hover  files hang over the page
 */
export function listenToFiles({ take, hover }) {
  const carriesFiles = (/** @type {DragEvent} */ event) => event.dataTransfer?.types.includes("Files") ?? false;
  window.addEventListener("dragover", (event) => {
    if (!carriesFiles(event)) return;
    event.preventDefault();
    hover(true);
  });
  window.addEventListener("dragleave", (event) => {
    if (event.relatedTarget === null) hover(false);
  });
  window.addEventListener("drop", (event) => {
    if (!carriesFiles(event)) return;
    event.preventDefault();
    hover(false);
    take([...(event.dataTransfer?.files ?? [])]);
  });
  window.addEventListener("paste", (event) => {
    const files = [...(event.clipboardData?.files ?? [])];
    if (files.length === 0) return;
    event.preventDefault();
    take(files);
  });
}

/**
 * Lets a hidden file field work for buttons.
 * @param {HTMLInputElement} field
 * @param {(files: File[]) => void} take
 * @returns {() => void} opens the browser's own choice of files
 */
export function chooser(field, take) {
  field.addEventListener("change", () => {
    const files = [...(field.files ?? [])];
    field.value = ""; // so that the same file can be chosen again
    if (files.length > 0) take(files);
  });
  return () => field.click();
}
