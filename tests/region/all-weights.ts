import type { Region } from '../../src/region/region.js'

/** A region with the weights of all its frames made, so that two can be compared: they are made when they are asked for. */
export function allWeights(region: Region) {
  return { ...region, frames: [...region.frames] }
}
