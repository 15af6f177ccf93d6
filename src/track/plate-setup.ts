// A plate in a form that goes to another thread, which opens it for itself.
import { laidOn, openPlate, type Plate } from '../footage/plate.js'
import type { Rect } from '../raster/rect.js'
import type { Transform } from '../raster/transform.js'

/** What a thread opens a plate by. */
export interface PlateSetup {
  readonly spec: string
  readonly encoding: string
  readonly layer?: string
  readonly active: Rect
  readonly avoided?: Plate['avoided']
  /** Where it is read as it lies on a common grid: its frames' poses, and the grid's size. */
  readonly laid?: {
    readonly poses: ReadonlyMap<number, Transform>
    readonly grid: Pick<Plate, 'width' | 'height' | 'active'>
  }
}

export function setupOf({ spec, encoding, layer, active, width, height, laid, avoided }: Plate): PlateSetup {
  return {
    ...(avoided === undefined ? {} : { avoided }),
    spec,
    encoding,
    active: laid?.plate.active ?? active,
    ...(layer === undefined ? {} : { layer }),
    ...(laid === undefined ? {} : { laid: { poses: laid.poses, grid: { width, height, active } } }),
  }
}

/** @throws as openPlate */
export async function openSetup({ spec, laid, avoided, ...options }: PlateSetup): Promise<Plate> {
  const found = await openPlate(spec, options)
  const plate = avoided === undefined ? found : { ...found, avoided }
  return laid === undefined ? plate : laidOn(plate, laid.poses, laid.grid)
}
