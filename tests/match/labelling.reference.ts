// The plain way: every labelling tried.
import { type LabellingJob, NO_LABEL, priceOf } from '../../src/match/labelling.js'

/** The lowest price that any labelling has. */
export function plainLowestPrice(job: LabellingJob): number {
  const places = [...job.wanted.keys()].filter((i) => job.wanted[i] === 1)
  const labels = new Uint8Array(job.wanted.length).fill(NO_LABEL)
  let lowest = Number.POSITIVE_INFINITY
  for (let k = 0; k < job.data.length ** places.length; k++) {
    let rest = k
    for (const place of places) {
      labels[place] = rest % job.data.length
      rest = Math.floor(rest / job.data.length)
    }
    lowest = Math.min(lowest, priceOf(job, labels))
  }
  return lowest
}
