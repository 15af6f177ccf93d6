// Blocks of 8 x 8 samples out of their cosine coefficients.
import type { Held, Workspace } from './workspace.js'

/** Planes that were transformed together, over one grid of blocks. */
export interface CosinePlanes {
  readonly columns: number
  readonly rows: number
  /** Where the samples of each go: of one, or of red, green and blue. Of the workspace. */
  readonly samples: readonly Uint8Array[]
  /** A bit per plane: set where samples are float32 instead of halves. */
  readonly wide: number
  /** From half to half; absent where halves stay as they are. */
  readonly table?: Uint16Array
}

/** 16-bit words, of the workspace, and which of them is the next. */
export interface Stream {
  readonly words: Uint16Array
  readonly at: number
}

/**
 * Decodes the blocks of planes that lie in some columns, and passes over the others.
 *
 * @param ac   all coefficients but the first of each block: 0xffnn skips nn, 0xff00 ends a block
 * @param dc   the first coefficients, plane after plane
 * @param from first column of blocks that is wanted, and `to` behind the last
 * @returns the next of the coefficients, or null where they end early
 */
export function cosineBlocks(
  workspace: Workspace,
  ac: Stream,
  dc: Stream,
  { columns, rows, samples, wide, table }: CosinePlanes,
  from: number,
  to: number,
): number | null {
  return workspace.run((kernels, room) => {
    const { zigzag, basis } = constantsOf(workspace)
    const out = (i: number): number => (i < samples.length ? room.write(samples[i]) : 0)
    const next = kernels.cosineBlocks(
      room.read(ac.words),
      ac.words.length,
      ac.at,
      room.read(dc.words.subarray(dc.at)),
      samples.length,
      Math.ceil(columns / 8),
      Math.ceil(rows / 8),
      from,
      to,
      columns,
      rows,
      out(0),
      out(1),
      out(2),
      wide,
      table === undefined ? 0 : room.read(table),
      room.read(zigzag),
      room.read(basis),
      room.space(3 * 256 + 512),
    )
    return next < 0 ? null : next
  })
}

interface Constants {
  readonly zigzag: Uint8Array
  readonly basis: Float64Array
}

/** In each workspace once. */
const constants = new WeakMap<Workspace, Constants>()

function constantsOf(workspace: Workspace): Constants {
  let found = constants.get(workspace)
  if (found === undefined) {
    const held: Held = workspace.hold()
    found = { zigzag: held.bytes(64), basis: held.doubles(64) }
    found.zigzag.set(zigzag())
    for (let k = 0; k < 8; k++) {
      const scale = k === 0 ? Math.SQRT1_2 / 2 : 0.5
      for (let x = 0; x < 8; x++) found.basis[k * 8 + x] = scale * Math.cos(((2 * x + 1) * k * Math.PI) / 16)
    }
    constants.set(workspace, found)
  }
  return found
}

/** Where each stored coefficient lies among 64, row by row (ITU-T T.81, fig. A.6). */
function zigzag(): number[] {
  const order: number[] = []
  for (let diagonal = 0; diagonal < 15; diagonal++) {
    const from = Math.max(0, diagonal - 7)
    const to = Math.min(7, diagonal)
    for (let k = from; k <= to; k++) {
      // even diagonals run upwards to the right, odd ones downwards to the left
      const row = diagonal % 2 === 0 ? to + from - k : k
      order.push(row * 8 + diagonal - row)
    }
  }
  return order
}
