// Frames that were measured one by one, and what they come to together: plain data, so that several threads may measure parts
// of them.
import { type Spectrum, TILE_PX } from '../grain/model.js'
import type { SideChange } from './change.js'
import type { FrameFinish, PatchFinish, WholeFinish } from './finish.js'
import { spectrumDistance } from './spectrum-distance.js'
import { type Changed, changedOf, type Stray, straysOf } from './stray.js'

const UNMEASURED = {
  unseen: 'no surface of the plate is seen in two frames, which tells its grain',
  grainless: 'the plate has no grain that changes from frame to frame',
  apart: 'no two frames follow each other',
  small: 'too little of the patch or of the plate round it is seen in two frames in a row',
  narrow: `patch or surround are too narrow for a spectrum, which takes ${TILE_PX} px either way`,
  held: 'the plate repeats its frames',
  moves: 'beside the mask the plate changes by more than its grain',
} as const
export type Unmeasured = keyof typeof UNMEASURED

/** A frame of the plate as it was written. */
export interface MeasuredFrame {
  readonly target: number
  readonly seam: number | null
  readonly detail: number | null
  /** Against the frame before. */
  readonly change: PairChange | Unmeasured
}

export interface PairChange {
  readonly inside: SideChange
  readonly ring: SideChange
  /** Of the ring each of its sides; null where too little of one is seen. */
  readonly sides: readonly (Changed | null)[]
  /** What the plate's own frames that show the region empty stray by from pair to pair; null: not known. */
  readonly ownStray: Stray | null
  /** Mean power of what changes, over the grain's variance; null where no tile tells. */
  readonly spectra: { readonly inside: Spectrum; readonly ring: Spectrum } | null
}

/** What measured frames come to, in their order. */
export function finishOf(frames: readonly MeasuredFrame[]): PatchFinish {
  const finish = frames.map((frame, i): readonly [number, FrameFinish] => {
    const before = ratiosOf(frame.change)
    // A frame has the noise that both of its changes agree on: who only changes to a noisy one has none itself.
    const both = [before, ratiosOf(frames[i + 1]?.change)].filter((r) => r !== null)
    const noise = both.sort((a, b) => strayOf(a.noise) - strayOf(b.noise))[0] ?? null
    return [
      frame.target,
      {
        seam: frame.seam,
        detail: frame.detail,
        flicker: before?.flicker ?? null,
        noise: noise?.noise ?? null,
        uncertainty: noise?.uncertainty ?? null,
      },
    ]
  })
  return { frames: new Map(finish), whole: wholeOf(frames) }
}

function wholeOf(frames: readonly MeasuredFrame[]): WholeFinish {
  const pairs = frames.flatMap(({ change }) => (typeof change === 'string' ? [] : [change]))
  const seams = frames.flatMap(({ seam }) => (seam === null ? [] : [seam]))
  const seam = seams.length > 0 ? Math.sqrt(seams.reduce((sum, s) => sum + s * s, 0) / seams.length) : null
  if (pairs.length === 0) {
    const why = frames.find(({ change }) => change !== 'apart')?.change ?? 'apart'
    const unmeasured = UNMEASURED[why as Unmeasured]
    return { seam, flicker: null, noise: null, spectrum: null, stray: null, unmeasured }
  }
  const total = (of: (side: SideChange) => number) =>
    Math.sqrt(pairs.reduce((sum, p) => sum + of(p.inside), 0) / pairs.reduce((sum, p) => sum + of(p.ring), 0))
  const spectra = { inside: new Float64Array(TILE_PX ** 2), ring: new Float64Array(TILE_PX ** 2) }
  for (const { spectra: own } of pairs) {
    if (own === null) continue
    add(spectra.inside, own.inside)
    add(spectra.ring, own.ring)
  }
  const spectrum = spectrumDistance(spectra.inside, spectra.ring)
  const noise = (c: 0 | 1 | 2) => total((side) => side.noise[c])
  return {
    seam,
    flicker: total((side) => side.flicker),
    noise: [noise(0), noise(1), noise(2)],
    spectrum,
    stray: straysOf(
      pairs.map(({ ring, sides }) => ({ ring: changedOf(ring), sides })),
      pairs[0]!.ownStray,
    ),
    unmeasured: seam === null ? UNMEASURED.small : spectrum === null ? UNMEASURED.narrow : null,
  }
}

function add(sum: Spectrum, more: Readonly<Spectrum>): void {
  for (let i = 0; i < sum.length; i++) sum[i]! += more[i]!
}

interface Ratios {
  readonly flicker: number
  readonly noise: readonly [number, number, number]
  readonly uncertainty: number
}

/** Standard deviations inside over those of the ring. */
function ratiosOf(change: PairChange | Unmeasured | undefined): Ratios | null {
  if (change === undefined || typeof change === 'string') return null
  const { inside, ring } = change
  const ratio = (c: 0 | 1 | 2) => Math.sqrt(inside.noise[c] / ring.noise[c])
  return {
    flicker: Math.sqrt(inside.flicker / ring.flicker),
    noise: [ratio(0), ratio(1), ratio(2)],
    uncertainty: Math.hypot(inside.error, ring.error) / 2,
  }
}

/** How far the channel that is furthest from 1 is from it. */
function strayOf(noise: readonly number[]): number {
  return Math.max(...noise.map((n) => Math.abs(Math.log(Math.max(1e-6, n)))))
}
