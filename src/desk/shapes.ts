// Shapes that are drawn on a plate: where they lie on a frame, and the mask that they make as SVG. The page draws by the
// same functions as the file is written by.
import type { Area, Point, Shape } from './shot-state.js'

/** Points of a shape on a frame, plate pixels: straight and even between two keys, still before the first and after the last. */
export function pointsAt({ keys }: Shape, frame: number): readonly Point[] {
  const after = keys.findIndex((key) => key.frame >= frame)
  if (after === -1) return keys[keys.length - 1].points
  const to = keys[after]
  if (after === 0 || to.frame === frame) return to.points
  const from = keys[after - 1]
  const share = (frame - from.frame) / (to.frame - from.frame)
  return from.points.map(([x, y], i) => [
    x + share * (to.points[i][0] - x),
    y + share * (to.points[i][1] - y),
  ])
}

/** Path data of a shape's points, of a brush its course. */
export function pathOf(kind: Shape['kind'], points: readonly Point[]): string {
  const [[x0, y0]] = points
  if (kind === 'box' || kind === 'ellipse') {
    const [x1, y1] = points[1] ?? points[0]
    const [left, right] = [Math.min(x0, x1), Math.max(x0, x1)].map(figures)
    const [top, bottom] = [Math.min(y0, y1), Math.max(y0, y1)].map(figures)
    if (kind === 'box') return `M${left} ${top}H${right}V${bottom}H${left}Z`
    const [rx, ry] = [Math.abs(x1 - x0) / 2, Math.abs(y1 - y0) / 2].map(figures)
    const middle = figures((y0 + y1) / 2)
    return `M${left} ${middle}A${rx} ${ry} 0 0 1 ${right} ${middle}A${rx} ${ry} 0 0 1 ${left} ${middle}Z`
  }
  const course = points.map(([x, y]) => `${figures(x)} ${figures(y)}`)
  // A single touch of the brush is a dot: a course without length has no round ends everywhere.
  if (kind === 'brush' && course.length === 1) return `M${course[0]}h0.01`
  return `M${course.join('L')}${kind === 'polygon' ? 'Z' : ''}`
}

/** The mask that an area's shapes make on a frame, as an SVG in plate pixels: white where pixels are to be replaced. */
export function maskSvg(shapes: readonly Shape[], frame: number, width: number, height: number): string {
  const drawn = shapes.map((shape) => {
    const data = pathOf(shape.kind, pointsAt(shape, frame))
    const ink = shape.cut ? 'black' : 'white'
    return shape.kind === 'brush'
      ? `<path d="${data}" fill="none" stroke="${ink}" stroke-width="${figures(shape.widthPx ?? 1)}" stroke-linecap="round" stroke-linejoin="round"/>`
      : `<path d="${data}" fill="${ink}"/>`
  })
  return `${[
    `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}">`,
    `<rect width="${width}" height="${height}" fill="black"/>`,
    ...drawn,
    '</svg>',
  ].join('\n')}\n`
}

/** Whether shapes lie elsewhere on another frame: then the mask is a file a frame. */
export function moves(shapes: readonly Shape[]): boolean {
  return shapes.some(({ keys }) => keys.length > 1)
}

/** Whether anything is drawn or named. */
export function isDrawn({ shapes, file }: Area): boolean {
  return file !== null || shapes.some(({ cut }) => !cut)
}

/** A hundredth of a pixel is as fine as anybody draws. */
function figures(value: number): number {
  return Math.round(value * 100) / 100
}
