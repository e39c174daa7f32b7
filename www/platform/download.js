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
 * The name of a file made from a scan: "shell-study.tif" gives "shell-study" + ending.
 * @param {string} scan
 * @param {string} ending
 */
export function nameFrom(scan, ending) {
  return scan.replace(/\.(tiff?|png|jpe?g|webp|bmp)$/i, "") + ending;
}
