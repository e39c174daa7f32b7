// Marks on the browser's own timeline, for the benchmark and for anyone with the developer tools open.
//
//   scan-dropped  a scan came onto the page
//   first-look    from there to the first picture of it
//   lift-shown    from there to the picture at full resolution
//   redraw        from a change of the recipe to its picture, one measure for each change

/** Measures kept on the timeline; a long day at the dials should not fill the memory. */
const KEPT = 2000;

/** @type {Map<number, number>} turn -> when the hand moved */
const waiting = new Map();
let first = false;
let lift = false;
let measured = 0;

/** A scan came onto the page. */
export function scanDropped() {
  performance.clearMarks("scan-dropped");
  performance.mark("scan-dropped");
}

/** Its session begins: the next pictures are its first. */
export function scanOpened() {
  waiting.clear();
  first = true;
  lift = true;
}

/** @param {number} turn whose picture is awaited from now on */
export function asked(turn) {
  // The event knows when the hand moved, which may be earlier than now when the page was busy.
  const moved = /** @type {Event|undefined} */ (window.event)?.timeStamp;
  waiting.set(turn, moved ?? performance.now());
}

/** @param {{turn: number, whole: boolean}} picture that was just drawn */
export function drawn({ turn, whole }) {
  if (first) performance.measure("first-look", "scan-dropped");
  first = false;
  if (lift && whole) {
    performance.measure("lift-shown", "scan-dropped");
    lift = false;
  }
  for (const [one, start] of waiting) {
    if (one > turn) continue;
    waiting.delete(one);
    measured += 1;
    if (measured % KEPT === 0) performance.clearMeasures("redraw");
    performance.measure("redraw", { start, end: performance.now() });
  }
}
