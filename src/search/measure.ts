// A draft made into a candidate: every pair it uses measured, its numbers summed up, scored and judged.

import type { Plate } from '../footage/plate.js'
import { middleMean } from '../match/order.js'
import { gradientEnergy, noiseSigma } from '../match/texture.js'
import { GOOD, working } from '../match/working.js'
import { HALF_VALUES } from '../raster/half.js'
import { CUBIC, taps } from '../raster/shift.js'
import type { Region } from '../region/region.js'
import type { Draft } from './drafts.js'
import type { Matrix } from './matrix.js'
import type { Registered } from './register.js'
import type { Candidate, FrameMatch } from './result.js'
import { lifeOf } from './rings.js'
import { judge, scoreOf } from './score.js'
import { clipLevel, keyOf, type Store, type StoredFrame } from './store.js'

/** Pixels of the surround that light per channel is measured on: more make it no steadier than grain allows. */
const LIGHT_PIXELS = 1024

const EVEN: [number, number, number] = [1, 1, 1]

interface Texture {
  readonly noise: number | null
}

/** Measures drafts of one search; what depends on a frame alone is worked out once. */
export class Measurer {
  readonly #textures = new Map<Registered, Texture>()
  readonly #stored: Map<string, StoredFrame>
  readonly #clip: number[]
  /** Scratch over the window. */
  private readonly shared: Float32Array
  #lifeFound: number | null | undefined

  constructor(
    readonly store: Store,
    readonly region: Region,
    readonly matrix: Matrix,
    plates: readonly Plate[],
  ) {
    this.#stored = new Map(store.frames.map((f) => [`${f.plate}:${f.frame}`, f]))
    this.#clip = plates.map(clipLevel)
    this.shared = new Float32Array(region.window.w * region.window.h)
  }

  /** The candidate with its numbers, its gains still 1: see `withGains`. */
  candidate(draft: Draft): Candidate {
    const { matrix } = this
    const frames = matrix.targets.map((target, t) => this.#frame(target, t, draft.shares[t]))
    const kind = draft.kind
    const single = frames.map((f) => f.stack === undefined)
    const averaged = draft.shares.map((s) =>
      Math.sqrt(s.reduce((sum, { weight }) => sum + weight * weight, 0)),
    )
    const measures = {
      ncc: mean(frames.map((f) => f.ncc)),
      stops: mean(frames.map((f) => f.stops)),
      seam: rms(frames.map((f) => f.seam)),
      inside: rms(frames.map((f, t) => (single[t] ? f.inside : Math.sqrt(Math.max(0, draft.cost))))),
      clean: least(frames.map((f) => f.clean)),
      grain: mean(matrix.targets.map((target, t) => this.#grain(target, draft.shares[t], averaged[t]))),
      sharpness: mean(this.#looked().map((t) => this.#sharpness(matrix.targets[t], draft.shares[t]))),
      steadiness: jitter(frames),
      life: this.#life(),
    }
    const noCorrelation =
      measures.ncc === null ? 'the surround is too flat, clipped or hidden to correlate' : null
    return {
      id: draft.id,
      kind,
      donor: draft.plate,
      timeOffset: draft.timeOffset,
      score: scoreOf(measures, kind),
      ...judge(measures, kind, noCorrelation),
      ...measures,
      frames,
    }
  }

  /** Measures the light per channel of every pair of a candidate: worth the time for those that are kept. */
  withGains(candidate: Candidate): Candidate {
    const { targets, donors } = this.matrix
    const of = new Map([...donors, ...targets].map((f) => [keyOf(f), f]))
    const found = new Map<string, [number, number, number]>()
    const gainOf = (target: number, plate: number, frame: number): [number, number, number] => {
      const key = `${target} ${plate} ${frame}`
      let gain = found.get(key)
      if (!gain) {
        gain = this.#gain(of.get(keyOf({ plate: 0, frame: target }))!, of.get(keyOf({ plate, frame }))!)
        found.set(key, gain)
      }
      return gain
    }
    const middle = targets[targets.length >> 1].frame
    const frames = candidate.frames.map((match) => {
      const gain = gainOf(match.target, match.plate, match.donor)
      if (!match.stack) return { ...match, gain }
      // A stack's donors are brought to the middle frame, and with it to each: light is passed on, not measured anew.
      const lead = gainOf(middle, match.plate, match.donor)
      const stack = match.stack.map((share) => {
        const there = gainOf(middle, share.plate, share.frame)
        return {
          ...share,
          gain: [0, 1, 2].map((c) => round((there[c] * gain[c]) / lead[c], 5)) as typeof gain,
        }
      })
      return { ...match, gain, stack }
    })
    return { ...candidate, frames }
  }

  /** Target frames that sharpness is looked at on: focus does not jump from frame to frame. */
  #looked(): number[] {
    const last = this.matrix.targets.length - 1
    return [...new Set([0, last >> 1, last])]
  }

  #frame(target: Registered, t: number, shares: Draft['shares'][number]): FrameMatch {
    const { matrix } = this
    const lead = shares.reduce((a, b) => (b.weight > a.weight ? b : a))
    const donor = matrix.donors[lead.column]
    const pair = matrix.pair(t, lead.column)
    const share = ({ column, weight }: (typeof shares)[number]) => {
      const d = matrix.donors[column]
      return { plate: d.plate, frame: d.frame, ...offset(target, d), gain: EVEN, weight }
    }
    return {
      target: target.frame,
      plate: donor.plate,
      donor: donor.frame,
      ...offset(target, donor),
      stops: round(pair.stops, 4),
      gain: EVEN,
      ncc: round(pair.ncc, 5),
      seam: round(pair.seam, 3),
      inside: round(pair.inside, 3),
      clean: round(pair.clean, 4),
      ...(shares.length > 1 ? { stack: shares.map(share) } : {}),
    }
  }

  /**
   * Linear-light factor per channel that brings the donor to the target: the middle half of the log ratios over the
   * surround, so that a passer-by in it has no say.
   */
  #gain(target: Registered, donor: Registered): [number, number, number] {
    const { rect } = this.store
    const a = this.#rgb(target)
    const b = this.#rgb(donor)
    const { window } = this.region
    const { surround } = this.region.frames.get(target.frame)!
    const dx = donor.dx - target.dx
    const dy = donor.dy - target.dy
    const x0 = Math.floor(-dx)
    const y0 = Math.floor(-dy)
    const fx = -dx - x0
    const fy = -dy - y0
    let all = 0
    for (let i = 0; i < surround.length; i++) if (surround[i] > 0) all++
    const stride = Math.max(1, Math.floor(all / LIGHT_PIXELS))
    const ratios = [new Float32Array(all), new Float32Array(all), new Float32Array(all)]
    let n = 0
    let met = 0
    const clipA = this.#clip[target.plate]
    const clipB = this.#clip[donor.plate]
    for (let y = 0, i = 0; y < window.h; y++) {
      for (let x = 0; x < window.w; x++, i++) {
        if (surround[i] === 0 || met++ % stride !== 0) continue
        const tx = x + window.x - rect.x
        const ty = y + window.y - rect.y
        const sx = tx + x0
        const sy = ty + y0
        if (sx < 0 || sy < 0 || sx + 1 >= rect.w || sy + 1 >= rect.h || target.trust[i] !== GOOD) continue
        const ta = (ty * rect.w + tx) * 3
        const s = (sy * rect.w + sx) * 3
        const below = s + rect.w * 3
        let good = true
        for (let c = 0; c < 3; c++) {
          const v =
            (1 - fy) * ((1 - fx) * HALF_VALUES[b[s + c]] + fx * HALF_VALUES[b[s + 3 + c]]) +
            fy * ((1 - fx) * HALF_VALUES[b[below + c]] + fx * HALF_VALUES[b[below + 3 + c]])
          const u = HALF_VALUES[a[ta + c]]
          const ratio = Math.log2(u / v)
          if (!(u < clipA && v < clipB && Number.isFinite(ratio))) good = false
          else ratios[c][n] = ratio
        }
        if (good) n++
      }
    }
    if (n === 0) return [1, 1, 1]
    const gain = ratios.map((r) => 2 ** middleMean(r, n))
    return [round(gain[0], 5), round(gain[1], 5), round(gain[2], 5)]
  }

  #rgb(key: Registered): Readonly<Uint16Array> {
    return this.#stored.get(keyOf(key))!.rgb
  }

  #texture(f: Registered): Texture {
    let found = this.#textures.get(f)
    if (!found) {
      const { rect } = this.store
      const { window } = this.region
      const { surround } = this.region.frames.get(f.frame) ?? this.region.frames.values().next().value!
      const whole = new Float32Array(rect.w * rect.h)
      for (let y = 0; y < window.h; y++) {
        const to = (y + window.y - rect.y) * rect.w + window.x - rect.x
        whole.set(surround.subarray(y * window.w, (y + 1) * window.w), to)
      }
      const { log } = working(this.#rgb(f), rect, Number.POSITIVE_INFINITY)
      found = { noise: noiseSigma(log.data, rect.w, whole) }
      this.#textures.set(f, found)
    }
    return found
  }

  /** Movement of the surround by itself; grain is the median of the target frames' own noise. */
  #life(): number | null {
    if (this.#lifeFound === undefined) {
      const { targets, frames, steady, surround, window } = this.matrix
      const noises = targets.flatMap((t) => this.#texture(t).noise ?? []).sort((a, b) => a - b)
      const grain = noises[noises.length >> 1] ?? 0
      this.#lifeFound = round(lifeOf(frames, steady, surround, window, grain), 2)
    }
    return this.#lifeFound
  }

  /** Donor's noise over the target's after resampling: white noise keeps the root of the taps' sum of squares. */
  #grain(target: Registered, shares: Draft['shares'][number], averaged: number): number | null {
    const donor = this.matrix.donors[shares[0].column]
    const a = this.#texture(target).noise
    const b = this.#texture(donor).noise
    if (a === null || b === null || a === 0) return null
    const { dx, dy } = offset(target, donor)
    return round((b / a) * power(dx) * power(dy) * averaged, 3)
  }

  #sharpness(target: Registered, shares: Draft['shares'][number]): number | null {
    const donor = this.matrix.donors[shares[0].column]
    const { surround } = this.region.frames.get(target.frame)!
    const a = this.matrix.steady.get(target)!
    const b = this.matrix.steady.get(donor)!
    const { w } = this.region.window
    // Where nobody passes in either: a walker in the surround is no detail of the wall's.
    const { shared } = this
    for (let i = 0; i < shared.length; i++) shared[i] = surround[i] * a[i] * b[i]
    // Grain has gradients too: half of its variance each way in a central difference of white noise.
    const clear = (f: Registered) => gradientEnergy(f.aligned, w, shared) - (this.#texture(f).noise ?? 0) ** 2
    const [mine, theirs] = [clear(target), clear(donor)]
    return mine > 0 && theirs > 0 ? round(Math.sqrt(theirs / mine), 3) : null
  }
}

function power(shift: number): number {
  let sum = 0
  for (const w of taps(shift, CUBIC).weights) sum += w * w
  return Math.sqrt(sum)
}

function offset(target: Registered, donor: Registered): { dx: number; dy: number } {
  return { dx: round(donor.dx - target.dx, 4), dy: round(donor.dy - target.dy, 4) }
}

/** RMS second difference of the offset over sqrt(6): what is left of it when smooth movement is taken out. */
function jitter(frames: readonly FrameMatch[]): number | null {
  if (frames.length < 3) return null
  let sum = 0
  for (let i = 1; i + 1 < frames.length; i++) {
    const [a, b, c] = [frames[i - 1], frames[i], frames[i + 1]]
    sum += (a.dx - 2 * b.dx + c.dx) ** 2 + (a.dy - 2 * b.dy + c.dy) ** 2
  }
  return round(Math.sqrt(sum / (frames.length - 2) / 6), 4)
}

function present(values: readonly (number | null)[]): number[] {
  return values.filter((v): v is number => v !== null)
}

function mean(values: readonly (number | null)[]): number | null {
  const v = present(values)
  return v.length > 0 ? round(v.reduce((a, b) => a + b, 0) / v.length, 4) : null
}

function rms(values: readonly (number | null)[]): number | null {
  const v = present(values)
  return v.length > 0 ? round(Math.sqrt(v.reduce((a, b) => a + b * b, 0) / v.length), 3) : null
}

function least(values: readonly (number | null)[]): number | null {
  const v = present(values)
  return v.length > 0 ? Math.min(...v) : null
}

function round<T extends number | null>(value: T, digits: number): T {
  return (value === null ? null : Number((value as number).toFixed(digits))) as T
}
