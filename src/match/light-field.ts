// How light differs over a region, as stops: harmonic polynomials, fitted on the ring round it. A polynomial that Laplace's
// equation holds for has no extreme inside, so that what is carried inward never goes beyond what the ring shows, and it is
// what a membrane stretched over the ring has of lowest order. Functions: J. D. Jackson, Classical Electrodynamics, the
// solutions of Laplace's equation in two dimensions (from memory).
import { columnOfInverse, factorOf, solveFactored } from './solve.js'

/** Where a field is 0, target pixels, and the length its coordinates are counted in, pixels. */
export interface FieldFrame {
  readonly x: number
  readonly y: number
  readonly span: number
}

/** A field's terms beside the constant: a plane has two, a surface of second order four. */
export type TermCount = 0 | 2 | 4
export const TERM_COUNTS: readonly TermCount[] = [0, 2, 4]

/** The light of one part of the ring. */
export interface TileLight {
  /** Middle of its pixels, in units of the span from the field's origin. */
  readonly u: number
  readonly v: number
  readonly pixels: number
  /** Stops per channel beyond those of the whole ring. */
  readonly stops: readonly [number, number, number]
}

/** What a fit found. */
export interface FittedField {
  /** Per channel first the constant, then the terms, stops. */
  readonly terms: readonly [Float64Array, Float64Array, Float64Array]
  /** Variance of each term if every tile's variance, weighed, were 1. */
  readonly spread: Float64Array
}

/** The value of term k, 0 (the constant) to 4: 1, u, v, u * u - v * v, 2 * u * v. */
function termAt(k: number, u: number, v: number): number {
  if (k === 0) return 1
  if (k === 1) return u
  if (k === 2) return v
  return k === 3 ? u * u - v * v : 2 * u * v
}

/** A tile lends its say for its pixels up to this many: beyond it, texture limits it and not grain. */
const MAX_SAY = 64
/** Keeps a fit solvable whose tiles lie in one line: a term that nothing tells of is 0. */
const RIDGE = 1e-4

/**
 * Weighted least squares.
 *
 * @param tiles at least one
 * @returns null where fewer tiles than terms are there
 */
export function fitField(tiles: readonly TileLight[], terms: TermCount): FittedField | null {
  const fit = fitTerms(tiles, terms, -1)
  if (fit === null) return null
  const { lower } = fit
  const spread = Float64Array.from({ length: terms + 1 }, (_, k) => columnOfInverse(lower, k, terms + 1)[k])
  return { terms: fit.terms, spread }
}

/**
 * The terms of a fit, and the lower factor of its normal matrix.
 *
 * @param without index of a tile that has no say, to see what the others make of its place; -1: all have
 */
function fitTerms(
  tiles: readonly TileLight[],
  terms: TermCount,
  without: number,
): { readonly terms: FittedField['terms']; readonly lower: Float64Array } | null {
  const n = terms + 1
  if (tiles.length - (without < 0 ? 0 : 1) < n) return null
  const normal = new Float64Array(n * n)
  const right = [new Float64Array(n), new Float64Array(n), new Float64Array(n)] as const
  const basis = new Float64Array(n)
  let weights = 0
  for (let i = 0; i < tiles.length; i++) {
    if (i === without) continue
    const { u, v, pixels, stops } = tiles[i]
    const weight = sayOf(pixels)
    weights += weight
    for (let a = 0; a < n; a++) basis[a] = termAt(a, u, v)
    for (let a = 0; a < n; a++) {
      for (let b = 0; b < n; b++) normal[a * n + b] += weight * basis[a] * basis[b]
      for (let c = 0; c < 3; c++) right[c][a] += weight * basis[a] * stops[c]
    }
  }
  for (let a = 1; a < n; a++) normal[a * n + a] += RIDGE * weights
  const lower = factorOf(normal, n, n)
  if (lower === null) return null
  const [r, g, b] = right
  return {
    terms: [solveFactored(lower, r, n), solveFactored(lower, g, n), solveFactored(lower, b, n)],
    lower,
  }
}

const sayOf = (pixels: number): number => Math.min(pixels, MAX_SAY)

/** Mean squared difference of the tiles from a fit, weighed, per degree of freedom that is left: one pixel's variance as far as tiles tell. */
export function residualOf(tiles: readonly TileLight[], { terms }: FittedField): number {
  let sum = 0
  for (const { u, v, pixels, stops } of tiles)
    for (let c = 0; c < 3; c++) sum += sayOf(pixels) * (stops[c] - fieldAt(terms[c], u, v)) ** 2
  return sum / (3 * Math.max(1, tiles.length - terms[0].length))
}

/** What terms say of a place, stops of one channel. */
export function fieldAt(terms: Readonly<Float64Array>, u: number, v: number): number {
  let sum = 0
  for (let k = 0; k < terms.length; k++) sum += terms[k] * termAt(k, u, v)
  return sum
}

/**
 * Mean squared error, stops, with which a fit to the other tiles tells each tile's light: what it may be trusted with where
 * nothing was measured (M. Stone, Cross-Validatory Choice and Assessment of Statistical Predictions, 1974).
 *
 * @returns null where too few tiles are there
 */
export function errorLeftOut(tiles: readonly TileLight[], terms: TermCount): number | null {
  let sum = 0
  let weights = 0
  for (const [i, { u, v, pixels, stops }] of tiles.entries()) {
    const fit = fitTerms(tiles, terms, i)
    if (fit === null) return null
    const weight = sayOf(pixels)
    for (let c = 0; c < 3; c++) sum += weight * (stops[c] - fieldAt(fit.terms[c], u, v)) ** 2
    weights += 3 * weight
  }
  return weights > 0 ? sum / weights : null
}
