// The plain way: what a labelling costs, every labelling tried, and what one step of alpha expansion could save.
import type { Labelling } from '../../src/kernels/labels.js'
import { NO_LABEL } from '../../src/match/labelling.js'
import { plainMaxFlow } from './max-flow.reference.js'

/** Share of a gradient's difference in the price of a seam, beside the difference itself. */
const GRADIENT_SHARE = 0.5

/** What a labelling costs: all data, all seams, all labels in use. */
export function priceOf(job: Labelling, labels: Readonly<Uint8Array>): number {
  const { width, height, data, labelPrice } = job
  let price = labelPrice * new Set(labels.filter((l) => l !== NO_LABEL)).size
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      const a = labels[i]
      if (a === NO_LABEL) continue
      price += data[a][i]
      if (x + 1 < width && labels[i + 1] !== NO_LABEL) price += seamPrice(job, i, i + 1, a, labels[i + 1])
      if (y + 1 < height && labels[i + width] !== NO_LABEL)
        price += seamPrice(job, i, i + width, a, labels[i + width])
    }
  return price
}

/** Between neighbours p and q, the one showing `a` and the other `b`; a metric in the labels. */
function seamPrice(job: Labelling, p: number, q: number, a: number, b: number): number {
  if (a === b) return 0
  return difference(job, p, a, b) + difference(job, q, a, b)
}

function difference({ pictures, width }: Labelling, p: number, a: number, b: number): number {
  const one = pictures[a]
  const other = pictures[b]
  const here = one[p] - other[p]
  // Beyond the last row and column there is no gradient, and it counts as none.
  const right = (p + 1) % width === 0 ? here : one[p + 1] - other[p + 1]
  const down = p + width >= one.length ? here : one[p + width] - other[p + width]
  return Math.abs(here) + GRADIENT_SHARE * (Math.abs(right - here) + Math.abs(down - here))
}

/** The lowest price that any labelling has. */
export function plainLowestPrice(job: Labelling): number {
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

/** The least that a labelling costs after any of its pixels have taken one label; labels themselves cost nothing. */
export function plainExpansion(job: Labelling, labels: Readonly<Uint8Array>, alpha: number): number {
  const { width, height, data } = job
  const places = [...labels.keys()].filter((i) => labels[i] !== NO_LABEL)
  const nodeOf = new Map(places.map((place, node) => [place, node]))
  // What keeping and taking cost each pixel; who takes lies on the source's side.
  const costs = places.map((i) => ({ keep: data[labels[i]][i], take: data[alpha][i] }))
  const edges: number[][] = []
  let sure = 0
  for (const p of places) {
    const right = (p + 1) % width === 0 ? [] : [p + 1]
    const below = p + width < width * height ? [p + width] : []
    for (const q of [...right, ...below]) {
      const [a, b] = [nodeOf.get(p)!, nodeOf.get(q)]
      if (b === undefined) continue
      const kept = seamPrice(job, p, q, labels[p], labels[q])
      const taken = seamPrice(job, p, q, alpha, labels[q])
      const given = seamPrice(job, p, q, labels[p], alpha)
      sure += kept
      costs[a].take += taken - kept
      costs[b].take -= taken
      edges.push([b, a, Math.max(0, given + taken - kept), 0])
    }
  }
  const least = costs.map(({ keep, take }) => Math.min(keep, take))
  const terminals = costs.map(({ keep, take }, node) => [keep - least[node], take - least[node]])
  return sure + least.reduce((sum, v) => sum + v, 0) + plainMaxFlow({ terminals, edges })
}
