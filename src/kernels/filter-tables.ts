// Filters as the kernels read them: values at so many steps a pixel that straight lines between them miss a cubic or a
// Lanczos by less than single precision holds.
import { type Filter, filterTaps } from '../raster/filters.js'

/** Steps a pixel; as in assembly/warp.ts. */
const STEPS = 2048

export interface FilterTables {
  /** The weights at every step from one sample to the next, 2 * radius of them. */
  readonly phases: Float32Array
  /** The values from the middle outwards, and 0 beyond. */
  readonly profile: Float32Array
}

const NONE: FilterTables = { phases: new Float32Array(0), profile: new Float32Array(0) }
const made = new WeakMap<Filter, FilterTables>()

/** Of the nearest sample there are none. */
export function filterTables(filter: Filter): FilterTables {
  const known = made.get(filter)
  if (known) return known
  if (filter.radius < 1) return NONE
  const n = 2 * filter.radius
  const phases = new Float32Array((STEPS + 2) * n)
  for (let step = 0; step < STEPS; step++) phases.set(filterTaps(-step / STEPS, filter).weights, step * n)
  // A whole pixel on: the second sample of the middle two, where 0 has the first.
  phases[STEPS * n + filter.radius] = 1
  phases[(STEPS + 1) * n + filter.radius] = 1
  const profile = new Float32Array(filter.radius * STEPS + 2)
  for (let step = 0; step < filter.radius * STEPS; step++) profile[step] = filter.at(step / STEPS)
  const tables = { phases, profile }
  made.set(filter, tables)
  return tables
}
