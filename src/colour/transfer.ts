// Whole pictures from code values to linear light and back.
import { CURVES } from './curves.js'
import type { Encoding } from './encoding.js'

/** Linear light of one code value (0 to 1 across the full integer range). */
export function decode(code: number, encoding: Encoding): number {
  return CURVES[encoding].decode(code)
}

/** Code value of one linear-light value. */
export function encode(linear: number, encoding: Encoding): number {
  return CURVES[encoding].encode(linear)
}

/**
 * Turns code values into linear light, in place. NaN and infinity stay what they are.
 *
 * @param samples  code values, 0 to 1 across the full integer range
 * @param encoding how they were stored
 * @param options.levels largest integer of a source that only holds k / levels, e.g. 1023 for 10 bits: a table of its
 *   levels + 1 answers is then looked up, which is exact and many times faster. Leave out for float sources.
 * @param options.between the samples come from codes but lie between them, such as R'G'B' made of Y'CbCr: between the
 *   nearest of 32,768 answers a straight line is taken, save where the curve bends: off by a float's last bit or two, or
 *   1e-8 in the dark, and many times faster as well
 */
export function decodeInPlace(
  samples: Float32Array,
  encoding: Encoding,
  { levels, between = false }: { readonly levels?: number; readonly between?: boolean } = {},
): void {
  if (encoding === 'linear') return
  if (between) {
    decodeBetween(samples, encoding)
    return
  }
  if (levels === undefined) {
    const { decode } = CURVES[encoding]
    // a curve ends where doubles do: infinity would come out as NaN from some of the toes
    for (let i = 0; i < samples.length; i++) {
      const code = samples[i]!
      if (Number.isFinite(code)) samples[i] = decode(code)
    }
    return
  }
  const table = tableOf(encoding, levels)
  for (let i = 0; i < samples.length; i++) samples[i] = table[(samples[i]! * levels + 0.5) | 0]!
}

// Y'CbCr reaches beyond R'G'B' from 0 to 1, as far as this at the colours that pictures hold; the curve itself goes on.
const [LINES_FROM, LINES_TO] = [-0.25, 1.25]
const LINES = 2 ** 15

function decodeBetween(samples: Float32Array, encoding: Encoding): void {
  const { decode } = CURVES[encoding]
  const { ends, bent } = linesOf(encoding)
  const perCode = LINES / (LINES_TO - LINES_FROM)
  for (let i = 0; i < samples.length; i++) {
    const code = samples[i]!
    const place = (code - LINES_FROM) * perCode
    const line = place | 0
    if (place >= 0 && place < LINES && bent[line] === 0) {
      samples[i] = ends[line]! + (place - line) * (ends[line + 1]! - ends[line]!)
    } else if (Number.isFinite(code)) samples[i] = decode(code)
  }
}

/** Turns linear light into code values, in place: the inverse of decodeInPlace. NaN and infinity stay. */
export function encodeInPlace(samples: Float32Array, encoding: Encoding): void {
  if (encoding === 'linear') return
  const { encode } = CURVES[encoding]
  for (let i = 0; i < samples.length; i++) {
    const light = samples[i]!
    if (Number.isFinite(light)) samples[i] = encode(light)
  }
}

/** Where a curve's straight lines begin and end, and which of them are no good: published constants leave steps in it. */
interface Lines {
  readonly ends: Float64Array
  readonly bent: Uint8Array
}

const known = new Map<Encoding, Lines>()

function linesOf(encoding: Encoding): Lines {
  let lines = known.get(encoding)
  if (lines === undefined) {
    const { decode } = CURVES[encoding]
    const at = (line: number): number => decode(LINES_FROM + (line * (LINES_TO - LINES_FROM)) / LINES)
    const ends = Float64Array.from({ length: LINES + 1 }, (_, i) => at(i))
    const bent = Uint8Array.from({ length: LINES }, (_, i) => {
      const middle = at(i + 0.5)
      return Math.abs(middle - (ends[i]! + ends[i + 1]!) / 2) > Math.max(1e-8, 2e-7 * Math.abs(middle))
        ? 1
        : 0
    })
    lines = { ends, bent }
    known.set(encoding, lines)
  }
  return lines
}

const tables = new Map<string, Float32Array>()

function tableOf(encoding: Encoding, levels: number): Float32Array {
  const key = `${encoding} ${levels}`
  let table = tables.get(key)
  if (table === undefined) {
    const { decode } = CURVES[encoding]
    table = Float32Array.from({ length: levels + 1 }, (_, code) => decode(code / levels))
    tables.set(key, table)
  }
  return table
}
