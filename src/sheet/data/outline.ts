// The edge of a mask as an SVG path along pixel borders.

/** Weights from here on lie inside the outline; halfway up a feathered edge. */
const INSIDE = 0.5

/**
 * The border between mask pixels below and from one half, as path data of horizontal and vertical strokes in pixel
 * units, (0, 0) the top left corner of the first pixel. Where the mask runs over the edge of the picture there is no
 * stroke: the region does not end there. Empty text where nothing reaches one half.
 *
 * @param mask 0 to 1, row-major, width * height
 */
export function outlinePath(mask: Readonly<Float32Array>, width: number, height: number): string {
  const strokes: string[] = []
  for (let y = 1; y < height; y++)
    for (const [from, to] of stretches(mask, y * width, 1, width, width)) strokes.push(`M${from} ${y}H${to}`)
  for (let x = 1; x < width; x++)
    for (const [from, to] of stretches(mask, x, width, height, 1)) strokes.push(`M${x} ${from}V${to}`)
  return strokes.join('')
}

const outlines = new WeakMap<Readonly<Float32Array>, string>()

/** The same of a region's mask, which stands on many frames and for all candidates: told once, so not to be changed afterwards. */
export function outlineOf(mask: Readonly<Float32Array>, width: number, height: number): string {
  const outline = outlines.get(mask) ?? outlinePath(mask, width, height)
  outlines.set(mask, outline)
  return outline
}

/**
 * Where a row or column is parted by the border from the one before it: first pixel, and the one after the last.
 *
 * @param first  its first pixel, `step` from one to the next, `count` of them
 * @param before from a pixel back to its neighbour in the one before
 */
function stretches(
  mask: Readonly<Float32Array>,
  first: number,
  step: number,
  count: number,
  before: number,
): [from: number, to: number][] {
  const found: [from: number, to: number][] = []
  let from = -1
  for (let k = 0, i = first; k < count; k++, i += step) {
    const border = mask[i] >= INSIDE !== mask[i - before] >= INSIDE
    if (border && from < 0) from = k
    if (!border && from >= 0) {
      found.push([from, k])
      from = -1
    }
  }
  if (from >= 0) found.push([from, count])
  return found
}
