// Several results over one plate taken as one: a region that holds all of theirs, and the donors of all.
import { type Rect, unite } from '../raster/rect.js'
import { MadeOnDemand } from '../region/made-on-demand.js'
import type { Region, RegionFrame } from '../region/region.js'
import type { Candidate, FrameMatch } from '../search/result.js'
import type { RepairJob } from './repair.js'
import type { Layer } from './several.js'

export interface Joint {
  /** Its result is the first layer's, which names the plate; its donors are those of all, one after the other. */
  readonly job: RepairJob
  /** Those of the layers, of the joint donors. */
  readonly candidates: readonly Candidate[]
}

/** @param layers over one plate, at least one */
export function jointOf(layers: readonly Layer[]): Joint {
  const [first] = layers as readonly [Layer, ...Layer[]]
  const donors = layers.flatMap(({ job }) => job.donors)
  let before = 0
  const candidates = layers.map(({ job, candidate }) => {
    const moved = { ...candidate, frames: candidate.frames.map((match) => lentFrom(match, before)) }
    before += job.donors.length
    return moved
  })
  const changed = [...new Map(layers.flatMap(({ job }) => job.changed).map((c) => [c.message, c])).values()]
  return { job: { ...first.job, donors, changed, region: regionOf(layers) }, candidates }
}

/** A match whose plates come after so many others. */
function lentFrom(match: FrameMatch, before: number): FrameMatch {
  const after = <T extends { readonly plate: number }>(of: T): T => ({ ...of, plate: of.plate + before })
  return {
    ...after(match),
    ...(match.stack ? { stack: match.stack.map(after) } : {}),
    ...(match.pieces ? { pieces: match.pieces.map(after) } : {}),
  }
}

/** So many frames' masks are kept: of those of one result they can be made again. */
const KEPT_FRAMES = 4

/** A frame's masks are those of the layers that fill it. */
function regionOf(layers: readonly Layer[]): Region {
  const regions = layers.map(({ job }) => job.region)
  const window = regions.map((r) => r.window).reduce(unite)
  const filling = new Map<number, { readonly target: number; readonly regions: Region[] }>()
  for (const { job, candidate } of layers)
    for (const { target } of candidate.frames) {
      const of = filling.get(target) ?? { target, regions: [] }
      of.regions.push(job.region)
      filling.set(target, of)
    }
  return {
    box: regions.map((r) => r.box).reduce(unite),
    window,
    surroundPx: Math.max(...regions.map((r) => r.surroundPx)),
    frames: new MadeOnDemand(
      filling,
      ({ target, regions }) => weightsTogether(target, regions, window),
      KEPT_FRAMES,
    ),
    empty: [],
    notes: [],
  }
}

function weightsTogether(target: number, regions: readonly Region[], window: Rect): RegionFrame {
  const inside = new Float32Array(window.w * window.h)
  const surround = new Float32Array(window.w * window.h)
  for (const { frames, window: own } of regions) {
    const weights = frames.get(target)!
    putMost(weights.inside, own, inside, window)
    putMost(weights.surround, own, surround, window)
  }
  return { inside, surround }
}

function putMost(from: Readonly<Float32Array>, part: Rect, into: Float32Array, window: Rect): void {
  for (let y = 0, i = 0; y < part.h; y++) {
    let to = (part.y - window.y + y) * window.w + part.x - window.x
    for (let x = 0; x < part.w; x++, i++, to++) into[to] = Math.max(into[to]!, from[i]!)
  }
}
