// The mean of a frame's donors by their weights. While each lends every pixel one weight counts for all.
import { addLent, addWhole, evened, type Lending, type Mean } from '../../kernels/channels.js'
import type { Held, Workspace } from '../../kernels/workspace.js'
import { hasHoles } from '../lend.js'

/** What the donors come to, in what was held for it. */
export interface Evened {
  /** Their light as it was shot; null: nobody asked for it. */
  readonly raw: Float32Array | null
  readonly matched: Float32Array
  /** 1 per pixel that any lends, else 0. */
  readonly there: Uint8Array
}

/** Takes in donors one after the other. */
export class DonorMean {
  readonly #sums: Omit<Mean, 'weight'>
  #isEmpty = true
  /** Of every pixel, rounded as it is added up, as long as there is no `weights`. */
  #weight = 0
  #weights: Float32Array | undefined

  /** @param held lends what is answered @param isRaw whether the donors' light as it was shot is asked for */
  constructor(
    readonly workspace: Workspace,
    readonly held: Held,
    readonly pixels: number,
    isRaw: boolean,
  ) {
    this.#sums = { raw: isRaw ? held.floats(3 * pixels) : null, matched: held.floats(3 * pixels) }
  }

  add(lending: Lending): void {
    const { share, there, ...whole } = lending
    const weight = Math.fround(whole.weight)
    if (this.#weights === undefined && share === null && weight !== 0 && !hasHoles(there)) {
      addWhole(this.workspace, whole, this.#sums, this.#isEmpty)
      this.#isEmpty = false
      this.#weight = Math.fround(this.#weight + weight)
    } else addLent(this.workspace, lending, { ...this.#sums, weight: this.#perPixel() })
  }

  done(): Evened {
    const there = new Uint8Array(this.pixels)
    // Where all lend as much as one would, the sum is the mean.
    if (this.#weights === undefined && Math.abs(this.#weight - 1) <= 1e-6) there.fill(1)
    else evened(this.workspace, { ...this.#sums, weight: this.#perPixel() }, there)
    return { ...this.#sums, there }
  }

  #perPixel(): Float32Array {
    if (this.#weights !== undefined) return this.#weights
    this.#weights = this.held.zeros(this.pixels)
    if (this.#weight !== 0) this.#weights.fill(this.#weight)
    if (this.#isEmpty) for (const sum of Object.values(this.#sums)) sum?.fill(0)
    return this.#weights
  }
}
