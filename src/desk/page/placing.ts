// Where a borrow lands: the surface that is searched, as it lies on the region once it is moved by the 2D offset.
import { pointsAt } from '../shapes.js'
import type { Asked, Point, Shape } from '../shot-state.js'
import { covered, movedBy } from './handles.js'

export interface Ghost {
  /** Shapes of the searched surface, moved to their place. */
  readonly shapes: readonly { readonly kind: Shape['kind']; readonly points: readonly Point[] }[]
  /** Plate pixels, right and down. */
  readonly offset: Point
  /** Middle of the moved surface. */
  readonly middle: Point
}

/** Null where no other surface is drawn, or no region. Without an offset it lies middle on middle, as the search begins. */
export function ghostOf({ lookIn, region, offset }: Asked, frame: number): Ghost | null {
  const from = covered(lookIn.shapes, frame)
  const to = covered(region.shapes, frame)
  if (!from || !to) return null
  const [x, y] = middleOf(from)
  const [tx, ty] = middleOf(to)
  const [dx, dy] = offset ?? [tx - x, ty - y]
  return {
    shapes: lookIn.shapes.map((shape) => ({
      kind: shape.kind,
      points: movedBy(pointsAt(shape, frame), dx, dy),
    })),
    offset: [dx, dy],
    middle: [x + dx, y + dy],
  }
}

function middleOf([x, y, w, h]: readonly [number, number, number, number]): Point {
  return [x + w / 2, y + h / 2]
}
