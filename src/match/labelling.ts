// Which of several pictures shows through where: a label per pixel, of all labellings one whose price no single step of
// alpha expansion lowers. Y. Boykov, O. Veksler, R. Zabih, Fast Approximate Energy Minimization via Graph Cuts (PAMI 2001),
// sections 4 and 5; the graph of a step after V. Kolmogorov, R. Zabih, What Energy Functions Can Be Minimized via Graph
// Cuts? (PAMI 2004), section 4; a price per label in use after A. Delong et al., Fast Approximate Energy Minimization with
// Label Costs (IJCV 2012), section 2.2. A seam costs what the two pictures differ by at both of its pixels, V. Kwatra et
// al., Graphcut Textures (2003), equation 1, and what their gradients do, A. Agarwala et al., Interactive Digital
// Photomontage (2004), section 3. Differs: coarse to fine. Labels are first found for blocks, then anew along the seams.

import { type Labelling, spreadLabels } from '../kernels/labels.js'
import type { Workspace } from '../kernels/workspace.js'

export const NO_LABEL = 255
/** Labels that there can be. */
export const MAX_LABELS = NO_LABEL

/** Blocks are so large that no more than this many are labelled at once. */
const MAX_BLOCKS = 4096

/**
 * A local optimum over the grid, NO_LABEL where none was wanted: no label can be spread any further to advantage.
 *
 * @param job prices and pictures in the workspace, or they are copied in for every grid
 * @throws RangeError for no label, or too many
 */
export function labelGrid(workspace: Workspace, job: Labelling): Uint8Array {
  const { data, width, height } = job
  if (data.length === 0 || data.length > MAX_LABELS)
    throw new RangeError(`there must be 1 to ${MAX_LABELS} labels, and are ${data.length}`)
  let block = 1
  while (Math.ceil(width / block) * Math.ceil(height / block) > MAX_BLOCKS) block *= 2
  let labels = spreadLabels(workspace, job, block, bestAlone(job), { all: true })
  // What blocks have no use for a part of one has none for, either: on from here only labels in use are looked at.
  const used = data.map((_, l) => l).filter((l) => labels.includes(l))
  const part = { ...job, data: used.map((l) => data[l]), pictures: used.map((l) => job.pictures[l]) }
  labels = labels.map((l) => (l === NO_LABEL ? NO_LABEL : used.indexOf(l)))
  while (block > 1) {
    block >>= 1
    labels = spreadLabels(workspace, part, block, labels, { all: false })
  }
  return labels.map((l) => used[l] ?? NO_LABEL)
}

/** The label that is cheapest everywhere by itself. */
function bestAlone({ data, wanted }: Labelling): Uint8Array {
  const sums = data.map((price) => price.reduce((sum, v, i) => sum + wanted[i] * v, 0))
  const best = sums.indexOf(Math.min(...sums))
  return wanted.map((w) => (w === 1 ? best : NO_LABEL))
}
