// A plate planted in the test, the search that ran on it, and the pictures that patch would make of what it found.

import { openRepair } from '../../src/repair/repair.js'
import { findBorrow } from '../../src/search/borrow/borrow.js'
import { findDonors } from '../../src/search/hide/find.js'
import type { Result } from '../../src/search/result.js'
import { type PictureSource, picturesOf } from '../../src/sheet/data/pictures.js'
import { patch, plantShade } from '../search/shaded.js'
import { type Planted, plantPlate } from '../synthetic.js'

export const BOX = { x: 60, y: 30, w: 30, h: 50 }

export interface Searched {
  readonly result: Result
  readonly pictures: PictureSource
}

/** A porter crosses a wall before a swaying camera; in the target frames they stand in the region. */
export async function searchedPorter(folder: string): Promise<Searched & { readonly plate: Planted }> {
  const plate = await plantPlate(folder, {
    frames: 28,
    sway: (i) => [1.9 * Math.sin(i * 0.9), 1.3 * Math.cos(i * 1.7)],
    stops: (i) => 0.2 * Math.sin(i / 4),
    occluders: (i) => [{ x: 7 * i - 24, y: 34, w: 22, h: 44, light: 0.03 }],
  })
  const result = await findDonors({ target: folder, frames: '1014-1016', box: BOX, reach: 8, keep: 9 })
  return { plate, result, pictures: picturesOf(await openRepair(result)) }
}

/** A shadow passes over a wall; it is to land on frames that have none. @param radius at its peak, pixels */
export async function searchedShadow(folder: string, radius = 22): Promise<Searched> {
  const middle = { x: BOX.x + BOX.w / 2, y: BOX.y + BOX.h / 2 }
  await plantShade(folder, { shades: [patch({ stops: -0.6, peak: 23, radius, ...middle })] })
  const result = await findBorrow({ target: folder, frames: '1003-1007', box: BOX })
  return { result, pictures: picturesOf(await openRepair(result)) }
}
