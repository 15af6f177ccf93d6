// Labels spread over blocks by alpha expansion: see `src/match/labelling.ts`.
import type { Workspace } from './workspace.js'

export interface Labelling {
  readonly width: number
  readonly height: number
  /** 1 where a label is wanted. */
  readonly wanted: Readonly<Uint8Array>
  /** Per label, the price of showing it at a pixel, at least 0. */
  readonly data: readonly Readonly<Float32Array>[]
  /** Per label, its picture in units of the grain: seams run where pictures agree. */
  readonly pictures: readonly Readonly<Float32Array>[]
  /** Price of every label that is used at all. */
  readonly labelPrice: number
}

/**
 * Labels of pixels after no label can be spread over more blocks to advantage. Prices and pictures that don't lie in the workspace
 * are copied in.
 *
 * @param block  side of a block, pixels
 * @param labels that it begins with, per pixel
 * @param all    every block may change; else those near a seam
 */
export function spreadLabels(
  workspace: Workspace,
  { width, height, wanted, data, pictures, labelPrice }: Labelling,
  block: number,
  labels: Readonly<Uint8Array>,
  { all }: { all: boolean },
): Uint8Array {
  const out = new Uint8Array(labels.length)
  const [across, down] = [Math.ceil(width / block), Math.ceil(height / block)]
  const blocks = across * down
  const count = data.length
  workspace.run((kernels, room) => {
    const from = room.read(wanted)
    const label = room.space(blocks)
    const free = room.space(4 * blocks)
    const node = room.space(4 * blocks)
    // Nodes are laid later than what tells who is free.
    const freeCount = kernels.layBlocks(width, height, block, room.read(labels), all, label, free, node)
    const sumsOf = (price: Readonly<Float32Array>) => {
      if (block === 1) return room.read(price)
      const sums = room.space(4 * blocks)
      kernels.sumBlocks(room.read(price), from, width, height, block, sums)
      return sums
    }
    const sums = room.read(Int32Array.from(data, sumsOf))
    const shown = room.read(Int32Array.from(pictures, (picture) => room.read(picture)))
    const graph = room.space(kernels.graphBytes(freeCount + count, 3 * freeCount))
    const loose = room.space(8 * count)
    const numbers = [width, height, block, across, down, count, freeCount]
    const job = Int32Array.of(...numbers, from, sums, shown, label, free, node, graph, loose)
    kernels.spreadLabels(room.read(job), labelPrice)
    kernels.layLabels(width, height, block, from, label, room.write(out))
  })
  return out
}
