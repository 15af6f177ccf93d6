// Soft grain, of film that was scanned or of footage that was enlarged: from frame to frame it changes everywhere alike, and no
// further than some pixels at once. What moves changes more here than there, or in larger pieces.

import { meanOf } from './over-frames.js'

/** Pixels along a tile: some dozen blots of soft grain either way, and few things that move fill one. */
const TILE_PX = 12
/** Less of a tile than this share of what all frames show tells nothing of it; nor do fewer tiles. */
const MIN_SEEN = 0.3
const MIN_TILES = 24
/** Tiles next to one in brightness, to either side, that it is held against: grain hangs on the light. */
const ALIKE = 8
/** So many tiles are quieter than what is taken for even. */
const QUIET = 0.2
/** Grain leaves the quiet ones this much of what tiles have in the mean: soft grain 0.73 to 0.88, what moves 0.59 at most. */
const MIN_EVEN = 0.65
/** Blocks of these pixels along a side, larger than blots of grain ... */
const [FINE, COARSE] = [4, 8]
/**
 * ... of which the larger then change as much as the smaller, each by its area: white noise as much, and 1.55 times as much under a
 * Gauss of one pixel. Of made plates soft grain has 0.94 to 1.28. Water has 0.27 and leaves 0.61 to 0.66, as what moves a little
 * cancels out over a block; hot air has 1.6, a lamp's bands in a rolling shutter 2.6 to 4.8, shadows of leaves 4.4.
 */
const LARGER = [0.8, 1.55] as const
const MIN_BLOCKS = 64

/** What changes from one frame to the next over the window, added up pair by pair. */
export class EvenGrain {
  readonly #across: number
  readonly #powers: Float64Array
  readonly #levels: Float64Array
  readonly #counts: Float64Array
  readonly #blocks = [FINE, COARSE].map((px) => ({ px, power: 0, count: 0 }))
  #pairs = 0

  constructor(
    readonly width: number,
    readonly height: number,
  ) {
    this.#across = Math.ceil(width / TILE_PX)
    const tiles = this.#across * Math.ceil(height / TILE_PX)
    this.#powers = new Float64Array(tiles)
    this.#levels = new Float64Array(tiles)
    this.#counts = new Float64Array(tiles)
  }

  /**
   * @param change stops, over the window; NaN where it is not known
   * @param level  log2 luminance, over the window
   */
  add(change: Readonly<Float32Array>, level: Readonly<Float32Array>): void {
    this.#pairs++
    const { width, height } = this
    for (let y = 0, i = 0; y < height; y++)
      for (let x = 0; x < width; x++, i++) {
        if (Number.isNaN(change[i])) continue
        const tile = Math.floor(y / TILE_PX) * this.#across + Math.floor(x / TILE_PX)
        this.#powers[tile] += change[i] ** 2
        this.#levels[tile] += level[i]
        this.#counts[tile]++
      }
    for (const block of this.#blocks) addBlocks(change, width, height, block)
  }

  /** Share of the change that is soft grain, 0 to 1; 0 where it is not even, or lies in pieces of another size. */
  share(): number {
    const [fine, coarse] = this.#blocks
    if (coarse.count < MIN_BLOCKS) return 0
    const larger = coarse.power / coarse.count / (fine.power / fine.count)
    if (!(larger >= LARGER[0] && larger <= LARGER[1])) return 0
    const least = MIN_SEEN * TILE_PX ** 2 * this.#pairs
    const seen = [...this.#counts.keys()].filter((tile) => this.#counts[tile] > least)
    if (seen.length < MIN_TILES) return 0
    const of = (sums: Float64Array) => (tile: number) => sums[tile] / this.#counts[tile]
    const [power, level] = [of(this.#powers), of(this.#levels)]
    const powers = seen.sort((a, b) => level(a) - level(b)).map(power)
    const even = powers.map((own, k) => own / meanOf(powers.slice(Math.max(0, k - ALIKE), k + ALIKE + 1)))
    const quiet = even.sort((a, b) => a - b)[Math.floor(QUIET * even.length)]
    return quiet >= MIN_EVEN ? Math.min(1, quiet) : 0
  }
}

/** Adds the squares of how four blocks' means differ, across, down and both ways, each as if it were of single pixels of white noise. */
function addBlocks(
  change: Readonly<Float32Array>,
  width: number,
  height: number,
  block: { readonly px: number; power: number; count: number },
): void {
  const { px } = block
  for (let y = 0; y + 2 * px <= height; y += 2 * px)
    for (let x = 0; x + 2 * px <= width; x += 2 * px) {
      const at = y * width + x
      // Within the region nothing is known.
      if (Number.isNaN(change[at])) continue
      const a = sumOf(change, width, at, px)
      const b = sumOf(change, width, at + px, px)
      const c = sumOf(change, width, at + px * width, px)
      const d = sumOf(change, width, at + px * width + px, px)
      const power = (a - b + c - d) ** 2 + (a + b - c - d) ** 2 + (a - b - c + d) ** 2
      if (Number.isNaN(power)) continue
      block.power += power / (12 * px * px)
      block.count++
    }
}

function sumOf(change: Readonly<Float32Array>, width: number, at: number, px: number): number {
  let sum = 0
  for (let row = at, y = 0; y < px; y++, row += width) for (let i = row; i < row + px; i++) sum += change[i]
  return sum
}
