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
 */
export function decodeInPlace(
  samples: Float32Array,
  encoding: Encoding,
  { levels }: { readonly levels?: number } = {},
): void {
  if (encoding === 'linear') return
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

/** Turns linear light into code values, in place: the inverse of decodeInPlace. NaN and infinity stay. */
export function encodeInPlace(samples: Float32Array, encoding: Encoding): void {
  if (encoding === 'linear') return
  const { encode } = CURVES[encoding]
  for (let i = 0; i < samples.length; i++) {
    const light = samples[i]!
    if (Number.isFinite(light)) samples[i] = encode(light)
  }
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
