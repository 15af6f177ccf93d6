// A repair in a form that goes to another thread, which opens its footage for itself; the region's weights are shared with it.
import type { Look } from '../colour/look/look.js'
import type { Region, RegionFrame } from '../region/region.js'
import type { Result } from '../search/result.js'
import { openSetup, type PlateSetup, setupOf } from '../track/plate-setup.js'
import { jobOf, type RepairJob } from './repair.js'

/** What a thread opens a repair by. */
export interface JobSetup {
  readonly result: Result
  readonly plates: readonly PlateSetup[]
  /** Into the plates. */
  readonly target: number
  readonly donors: readonly number[]
  readonly region: Region
  readonly look: Look | null
  readonly room: number
}

/** @param room share of what may be kept in memory, as RepairJob has it */
export function jobSetup({ result, target, donors, region, viewing }: RepairJob, room: number): JobSetup {
  const plates = [...new Set([target, ...donors])]
  return {
    result,
    plates: plates.map(setupOf),
    target: plates.indexOf(target),
    donors: donors.map((plate) => plates.indexOf(plate)),
    region: sharedRegion(region),
    look: viewing.look,
    room,
  }
}

/** @throws as openPlate */
export async function openJob(setup: JobSetup): Promise<RepairJob> {
  const plates = await Promise.all(setup.plates.map(openSetup))
  const { result, region, look, room } = setup
  const parts = {
    ...{ result, region, changed: [] },
    target: plates[setup.target]!,
    donors: setup.donors.map((plate) => plates[plate]!),
  }
  return jobOf(parts, look ?? undefined, room)
}

/** Samples in memory that threads share. */
export function sharedSamples(samples: Readonly<Float32Array>): Float32Array {
  const out = new Float32Array(new SharedArrayBuffer(samples.byteLength))
  out.set(samples)
  return out
}

/** Frames that share their weights go on sharing them. */
function sharedRegion(region: Region): Region {
  const made = new Map<RegionFrame, RegionFrame>()
  for (const own of new Set(region.frames.values()))
    made.set(own, { inside: sharedSamples(own.inside), surround: sharedSamples(own.surround) })
  return { ...region, frames: new Map([...region.frames].map(([f, own]) => [f, made.get(own)!])) }
}
