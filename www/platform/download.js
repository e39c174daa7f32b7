// Handing a file to the painter.

/**
 * @param {Blob} blob
 * @param {string} name
 */
export function download(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  // The browser has taken hold of the bytes once the click is through; a minute is ample even for a slow disk.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

/**
 * The name of a file made from a scan, as scripts/lift gives it: "shell-study.tif" becomes "shell-study" + ending, and of several pages
 * the third "studies.page-3" + ending, so that no page takes the name of another.
 * @param {string} scan
 * @param {{page: number, pages: number}|null} about  of how many pages which one, counted from 0
 * @param {string} ending
 */
export function nameFrom(scan, about, ending) {
  const page = about && about.pages > 1 ? `.page-${about.page + 1}` : "";
  return scan.replace(/\.(tiff?|png|jpe?g|webp|bmp|pdf)$/i, "") + page + ending;
}
