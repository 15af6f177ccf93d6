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
export function outlinePath(mask: Float32Array, width: number, height: number): string {
  const inside = (x: number, y: number) => mask[y * width + x] >= INSIDE
  const strokes: string[] = []
  for (let y = 1; y < height; y++) {
    let from = -1
    for (let x = 0; x <= width; x++) {
      const border = x < width && inside(x, y) !== inside(x, y - 1)
      if (border && from < 0) from = x
      if (!border && from >= 0) {
        strokes.push(`M${from} ${y}H${x}`)
        from = -1
      }
    }
  }
  for (let x = 1; x < width; x++) {
    let from = -1
    for (let y = 0; y <= height; y++) {
      const border = y < height && inside(x, y) !== inside(x - 1, y)
      if (border && from < 0) from = y
      if (!border && from >= 0) {
        strokes.push(`M${x} ${from}V${y}`)
        from = -1
      }
    }
  }
  return strokes.join('')
}
