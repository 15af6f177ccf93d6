// Boosted trees, grown and asked: see `src/match/boosted-trees.ts`.
import type { Workspace } from './workspace.js'

export interface TreesSetup {
  /** Per feature 1: the answer never falls as it grows; 0: anything goes. */
  readonly rising: readonly (0 | 1)[]
  readonly trees: number
  readonly depth: number
  /** Share of each tree's answer that is kept, 0 to 1. */
  readonly rate: number
  /** Fewer samples than this are no leaf. */
  readonly minLeaf: number
}

/** Full trees one after the other: 2^depth - 1 nodes that ask, and 2^depth answers. */
export interface Trees {
  /** What all start from. */
  readonly base: number
  readonly feature: Uint8Array
  /** Samples up to it go to the first of a node's two. */
  readonly threshold: Float32Array
  readonly value: Float64Array
}

/**
 * @param x samples one after the other, each with as many features as `rising` has; no NaN
 * @param y what is to be foretold, one per sample, at least one
 */
export function growTrees(
  workspace: Workspace,
  x: Readonly<Float32Array>,
  y: Readonly<Float64Array>,
  { rising, trees, depth, rate, minLeaf }: TreesSetup,
): Trees {
  const asking = trees * (2 ** depth - 1)
  const feature = new Uint8Array(asking)
  const threshold = new Float32Array(asking)
  const value = new Float64Array(trees * 2 ** depth)
  const base = workspace.run((kernels, room) =>
    kernels.growTrees(
      room.read(x),
      room.read(y),
      y.length,
      rising.length,
      room.read(Uint8Array.from(rising)),
      trees,
      depth,
      rate,
      minLeaf,
      room.space(kernels.treesRoom(y.length, rising.length, depth)),
      room.write(feature),
      room.write(threshold),
      room.write(value),
    ),
  )
  return { base, feature, threshold, value }
}

/** What trees say of samples, one after the other. */
export function askTrees(
  workspace: Workspace,
  { base, feature, threshold, value }: Trees,
  { rising, trees, depth }: TreesSetup,
  x: Readonly<Float32Array>,
): Float64Array {
  const out = new Float64Array(x.length / rising.length)
  workspace.run((kernels, room) =>
    kernels.askTrees(
      room.read(x),
      out.length,
      rising.length,
      base,
      trees,
      depth,
      room.read(feature),
      room.read(threshold),
      room.read(value),
      room.write(out),
    ),
  )
  return out
}
