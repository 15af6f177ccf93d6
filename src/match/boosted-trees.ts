// Regression by a sum of small trees, each grown on what the ones before left over. J. H. Friedman, Greedy Function
// Approximation: A Gradient Boosting Machine (Annals of Statistics, 2001), least squares; splits on binned features as in
// G. Ke et al., LightGBM (2017). Features known to do nothing but harm are never allowed to help: a split is taken only
// where its two means stand in the right order, and everything grown below it stays on its side of their middle.

import { askTrees, growTrees, type Trees, type TreesSetup } from '../kernels/trees.js'
import type { Workspace } from '../kernels/workspace.js'

export type { TreesSetup } from '../kernels/trees.js'

/** Trees that were grown in a workspace, and are asked there. */
export class BoostedTrees {
  readonly #grown: Trees

  /**
   * @param x samples one after the other, each with as many features as `rising` has; no NaN
   * @param y what is to be foretold, one per sample, at least one
   */
  constructor(
    readonly workspace: Workspace,
    x: Readonly<Float32Array>,
    y: Readonly<Float64Array>,
    readonly setup: TreesSetup,
  ) {
    this.#grown = growTrees(workspace, x, y, setup)
  }

  /** @param x samples as above; what is foretold of each */
  predict(x: Readonly<Float32Array>): Float64Array {
    return askTrees(this.workspace, this.#grown, this.setup, x)
  }
}
