// Hunts a planted shade and measures what comes back against the formula that made it.

import { LightingPass } from '../../src/repair/lighting/lighting-pass.js'
import { openRepair } from '../../src/repair/repair.js'
import { findBorrow } from '../../src/search/borrow/borrow.js'
import type { Candidate, FrameMatch } from '../../src/search/result.js'
import { OwnLights } from './borrow-own-light.js'
import { type ShadeCase, stopsAt } from './borrow-plant.js'
import { type Footage, readLinear, toDisplay } from './footage.js'
import { maskPath, plateFolder } from './plant.js'
import { regionPixels } from './region.js'

export interface Hunted {
  readonly planted: ShadeCase
  readonly seconds: number
  readonly candidates: readonly {
    id: string
    what: string
    sign: string
    verdict: string
    score: number
    peak: number
    depth: number
  }[]
  /** Place of the planted moment in the list, from 0; -1: not found. */
  readonly place: number
  readonly peakError: number | null
  /** Found depth over the depth of what is there, planted and the footage's own, minus 1. */
  readonly depthError: number | null
  /** The same over the planted depth alone. */
  readonly plantedDepthError: number | null
  /** Moments said to be light that stand above the planted one, with what really stands there. */
  readonly above: readonly { id: string; label: string }[]
  /** RMS of lifted over planted ratio, minus 1, where the plant is deeper than 0.1 stops and nobody stands. */
  readonly liftError: number | null
  /** dB of the applied result against the light that is there on the donor frame, and of what grain allows. */
  readonly appliedDb: number | null
  readonly grainDb: number | null
  /** dB against the planted light alone: of the result, and of a lift that brings exactly what is there. */
  readonly plantedDb: number | null
  readonly perfectDb: number | null
  readonly surface: number | null
}

/** The planted plate holds light up to 1; resampling needs a little room below. */
const CLIPPED = 0.98
/** Deeper than this the lifted ratio is judged. */
const JUDGED_STOPS = 0.1

export async function hunt(footage: Footage, folder: string, planted: ShadeCase): Promise<Hunted> {
  const started = performance.now()
  const result = await findBorrow({
    target: plateFolder(folder),
    mask: maskPath(folder),
    frames: planted.window.frames,
  })
  const seconds = (performance.now() - started) / 1000
  const place = result.candidates.findIndex((c) => isPlanted(planted, c))
  const found = place < 0 ? undefined : result.candidates[place]
  const before = place < 0 ? result.candidates : result.candidates.slice(0, place)
  const base = {
    planted,
    seconds,
    candidates: result.candidates.map((c) => ({
      id: c.id,
      what: c.moment!.what,
      sign: c.moment!.sign,
      verdict: c.verdict,
      score: c.score,
      peak: c.moment!.peak,
      depth: c.moment!.depthStops,
    })),
    place,
    above: before
      .filter((c) => c.moment!.what === 'light')
      .map((c) => ({ id: c.id, label: labelOfMoment(planted, c) })),
  }
  if (!found) {
    return {
      ...base,
      peakError: null,
      depthError: null,
      plantedDepthError: null,
      liftError: null,
      appliedDb: null,
      grainDb: null,
      plantedDb: null,
      perfectDb: null,
      surface: null,
    }
  }
  const job = await openRepair(result)
  const pass = new LightingPass(job, found)
  const owned = new OwnLights(footage, planted, found)
  const errors: number[] = []
  let applied = 0
  let againstPlanted = 0
  let perfect = 0
  let grain = 0
  let samples = 0
  for (const match of found.frames) {
    if (labelAt(planted, match.donor) !== 'empty') continue
    // Without feather and fade, which are meant to be no truth.
    const lifted = await pass.lift(match, { featherPx: 0, fade: { in: 0, out: 0 } })
    const { box, crop } = planted
    const at = regionPixels({ ...box, x: box.x - lifted.rect.x, y: box.y - lifted.rect.y }, lifted.rect.w)
    const truth = truthRatio(planted, match)
    const own = await owned.at(match)
    const other = await witness(footage, planted, match.target)
    for (let k = 0; k < at.length; k++) {
      const t = truth[k]
      const y = Math.floor(at[k] / lifted.rect.w) + lifted.rect.y
      const x = (at[k] % lifted.rect.w) + lifted.rect.x
      if (x >= crop.w || y >= crop.h) continue
      for (let c = 0; c < 3; c++) {
        const r = lifted.ratio.data[3 * at[k] + c]
        // What the donor shows clipped can't be lifted by anybody.
        if (lifted.donor.data[3 * at[k] + c] > CLIPPED) continue
        const clean = lifted.target.data[3 * at[k] + c]
        if (Math.abs(t.stops) > JUDGED_STOPS) errors.push((r / t.rgb[c] - 1) ** 2)
        const want = toDisplay(clean * t.rgb[c])
        const there = toDisplay(clean * t.rgb[c] * 2 ** own[3 * k + c])
        applied += (toDisplay(clean * r) - there) ** 2
        againstPlanted += (toDisplay(clean * r) - want) ** 2
        perfect += (there - want) ** 2
        // Two frames' grain differs by twice one frame's variance.
        grain += (toDisplay(other(x, y, c) * t.rgb[c]) - want) ** 2 / 2
        samples++
      }
    }
  }
  const db = (sum: number) => (samples === 0 ? null : -10 * Math.log10(Math.max(sum, 1e-12) / samples))
  const strongest = found.frames.find((m) => m.donor === planted.strongest)
  const depth = strongest ? await owned.deepest(strongest) : Math.abs(planted.deepest)
  return {
    ...base,
    peakError: found.moment!.peak - planted.strongest,
    depthError: found.moment!.depthStops / depth - 1,
    plantedDepthError: found.moment!.depthStops / Math.abs(planted.deepest) - 1,
    liftError: errors.length === 0 ? null : Math.sqrt(errors.reduce((a, b) => a + b, 0) / errors.length),
    appliedDb: db(applied),
    grainDb: db(grain),
    plantedDb: db(againstPlanted),
    perfectDb: db(perfect),
    surface: found.moment!.surface,
  }
}

/** Only the moment that holds the strongest frame is the planted one; a scrap of its tail, or a coat in it, is not. */
function isPlanted({ strongest, shade }: ShadeCase, { moment }: Candidate): boolean {
  if (moment === undefined || moment.sign !== (shade.stops < 0 ? 'darker' : 'brighter')) return false
  return moment.what === 'light' && moment.start <= strongest && moment.end >= strongest
}

function labelAt({ frames, labels }: ShadeCase, frame: number): string {
  return labels[frames.indexOf(frame)]
}

/** The worst that really stands in the region on the moment's frames. */
function labelOfMoment(planted: ShadeCase, { moment }: Candidate): string {
  const labels = new Set<string>()
  for (let f = moment!.start; f <= moment!.end; f++) labels.add(labelAt(planted, f))
  return labels.has('disturbed') ? 'disturbed' : labels.has('unsure') ? 'unsure' : 'empty'
}

/** The planted ratio on the region's pixels, as the donor of a match has it where the target frame sees it. */
function truthRatio({ box, crop, motion, frames, shade }: ShadeCase, match: FrameMatch) {
  const { dx, dy } = motion[frames.indexOf(match.target)]
  return [...regionPixels(box, crop.w)].map((p) => {
    const x = (p % crop.w) + crop.x - dx
    const y = Math.floor(p / crop.w) + crop.y - dy
    const stops = stopsAt(shade, x, y, match.donor)
    return { stops, rgb: shade.tint.map((t) => 2 ** (stops * t)) }
  })
}

/** Another clean frame of the window, in the target's light: what the same picture looks like with other grain. */
async function witness(
  footage: Footage,
  { window, crop, motion, frames, variant }: ShadeCase,
  target: number,
) {
  const at = window.frames.indexOf(target)
  const other = window.frames[(at + 5) % window.frames.length]
  const { data } = await readLinear(footage, other, crop)
  const { stops, dx, dy } = motion[frames.indexOf(target)]
  const gain = 2 ** stops
  const ox = variant === 'sway' ? Math.round(dx) : 0
  const oy = variant === 'sway' ? Math.round(dy) : 0
  return (x: number, y: number, c: number): number => {
    const sx = Math.max(0, Math.min(crop.w - 1, x - ox))
    const sy = Math.max(0, Math.min(crop.h - 1, y - oy))
    return gain * data[3 * (sy * crop.w + sx) + c]
  }
}
