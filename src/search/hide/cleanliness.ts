// Which of the frames show the region as it is with nobody in front, in one of the states that may hold at the target.
import type { Workspace } from '../../kernels/workspace.js'
import { cleanShare, markDirty, visibleSpread, type Weighed, weighed } from '../../match/clean.js'
import { hasByte } from '../../raster/has-byte.js'
import { relativeTo } from '../../raster/rect.js'
import type { Region, RegionFrame } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import type { Known } from './known.js'

/** How much of a mask each frame shows as it is in one of the states that may hold at the target. */
export class Cleanliness {
  /** Per state and frame, over the window. */
  readonly #dirt: Uint8Array[][] = []
  readonly #inside = new Map<RegionFrame, Weighed>()
  readonly #shares = new Map<RegionFrame, Float32Array>()

  constructor(
    readonly workspace: Workspace,
    readonly known: Known,
    readonly region: Region,
  ) {}

  *prepare(): Steps<void, never> {
    const { registration, spread, states } = this.known
    const { window, frames } = registration
    const { box } = this.region
    const part = relativeTo(box, window)
    const otherwise = new Uint8Array(window.w * window.h)
    for (const { cleanPlate, local } of states) {
      const held = this.workspace.hold()
      try {
        const level = held.laid(cleanPlate.level)
        const now = local && held.laid(local)
        const seen = held.laid(visibleSpread(cleanPlate.level, spread))
        const ofState: Uint8Array[] = []
        for (const { aligned, validity, exposure } of frames) {
          yield
          const dirty = new Uint8Array(window.w * window.h)
          const frame = { aligned, validity, exposure, spread: seen }
          markDirty(this.workspace, { ...frame, level }, window.w, dirty, part)
          if (now !== null && hasByte(dirty, 1)) {
            // A little may look otherwise just now than as a rule: a pixel is clean that shows either.
            markDirty(this.workspace, { ...frame, level: now }, window.w, otherwise, part)
            keepShared(dirty, otherwise)
          }
          ofState.push(dirty)
        }
        this.#dirt.push(ofState)
      } finally {
        held.release()
      }
    }
  }

  /** NaN where the mask covers nothing. */
  shareOf(frame: number, mask: RegionFrame): number {
    const known = this.#shares.get(mask) ?? this.#sharesOf(mask)
    this.#shares.set(mask, known)
    return known[frame]
  }

  /** The state that a frame shows most of, under the first mask if no other is given. */
  stateOf(frame: number, mask: RegionFrame = this.region.frames.values().next().value!): number {
    if (this.#dirt.length === 1) return 0
    const shares = this.#dirt.map((ofState) => this.#share(ofState[frame], mask))
    return shares.indexOf(Math.max(...shares))
  }

  /** Over the window, 1 where the frame does not show that state. */
  dirtOf(frame: number, mask: RegionFrame): Readonly<Uint8Array> {
    return this.#dirt[this.stateOf(frame, mask)][frame]
  }

  #sharesOf(mask: RegionFrame): Float32Array {
    return Float32Array.from(this.known.registration.frames, (_, f) =>
      Math.max(...this.#dirt.map((ofState) => this.#share(ofState[f], mask))),
    )
  }

  #share(dirty: Uint8Array, mask: RegionFrame): number {
    let inside = this.#inside.get(mask)
    if (inside === undefined) {
      inside = weighed(mask.inside)
      this.#inside.set(mask, inside)
    }
    return cleanShare(dirty, inside) ?? Number.NaN
  }
}

/** Leaves marked what is marked in both. */
function keepShared(marks: Uint8Array, others: Readonly<Uint8Array>): void {
  for (let i = 0; i < marks.length; i++) marks[i] &= others[i]
}
