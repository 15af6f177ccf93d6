// A repair in a form that goes to another thread, which opens its footage for itself; the region's weights are shared with it.
import type { Look } from '../colour/look/look.js'
import type { Mask } from '../region/mask.js'
import { type Region, weightsOf } from '../region/region.js'
import type { Result } from '../search/result.js'
import { openSetup, type PlateSetup, setupOf } from '../track/plate-setup.js'
import { jobOf, type RepairJob } from './repair.js'

type RegionSetup = Omit<Region, 'frames' | 'masks'> & { readonly masks: ReadonlyMap<number, Mask> }

/** What a thread opens a repair by. */
export interface JobSetup {
  readonly result: Result
  readonly plates: readonly PlateSetup[]
  /** Into the plates. */
  readonly target: number
  readonly donors: readonly number[]
  readonly region: RegionSetup
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
  const { result, region: given, look, room } = setup
  const region = { ...given, frames: weightsOf(given.masks, given.window, given.surroundPx) }
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

/** Masks, whose samples are shared, go over; weights are made of them where they are asked for. */
function sharedRegion({ frames: _, masks, ...region }: Region): RegionSetup {
  const made = new Map<Mask, Mask>()
  for (const mask of new Set(masks!.values())) made.set(mask, { ...mask, data: sharedSamples(mask.data) })
  return { ...region, masks: new Map([...masks!].map(([frame, mask]) => [frame, made.get(mask)!])) }
}
