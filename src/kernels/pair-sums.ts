// Weighted sums of pairs of pictures: of one, and of one target with many donors.
import type { Held, Workspace } from './workspace.js'

/**
 * Weighted sums of two lists of samples that lie about 0.
 *
 * @param weight   of the target's samples
 * @param validity 1 per sample of the donor that may be used, else 0; absent: all
 * @returns sums of w, w t, w d, w t t, w d d, w (t - d)(t - d)
 */
export function pairSums(
  workspace: Workspace,
  target: Readonly<Float32Array>,
  donor: Readonly<Float32Array>,
  weight: Readonly<Float32Array>,
  validity?: Readonly<Uint8Array>,
): readonly [w: number, wt: number, wd: number, wtt: number, wdd: number, wee: number] {
  return workspace.run((kernels, room) => {
    const { answer } = room
    kernels.pairSums(
      room.read(target),
      room.read(donor),
      room.read(weight),
      validity === undefined ? 0 : room.read(validity),
      weight.length,
      answer.byteOffset,
    )
    return [answer[0], answer[1], answer[2], answer[3], answer[4], answer[5]]
  })
}

/** Lists of samples one after the other, a row for each. */
export interface Rows {
  readonly samples: Float32Array
  /** 1 per sample that may be used, else 0. */
  readonly validity: Uint8Array
  /** Of a row. */
  readonly length: number
}

/** Part of all rows, with what is known of each alone. */
export interface KnownRows extends Rows {
  /** Its first sample. */
  readonly from: number
  /** The weights that most targets have of them. */
  readonly usual: Float32Array
  readonly known: Float64Array
}

/** Numbers that `pairSumsOf` has of a pair, and those that are kept of a block. */
export const PAIR_SUMS = 6
const KNOWN = 4

/**
 * @param held  where what is known is kept
 * @param from  the part's first sample in each row
 * @param usual a weight for each of its samples, in the workspace
 */
export function knownRows(
  workspace: Workspace,
  held: Held,
  rows: Rows,
  from: number,
  usual: Float32Array,
): KnownRows {
  const count = rows.length > 0 ? rows.samples.length / rows.length : 0
  const part = usual.length
  const known = held.doubles(workspace.run((kernels) => KNOWN * count * kernels.blocksIn(part)))
  workspace.run((kernels, room) =>
    kernels.sumRows(
      room.read(rows.samples) + 4 * from,
      room.read(rows.validity) + from,
      rows.length,
      count,
      room.read(usual),
      part,
      room.write(known),
    ),
  )
  return { ...rows, from, usual, known }
}

/**
 * As `pairSums`, of one target with part of many donors.
 *
 * @param target as many samples as the part has, with a weight for each
 * @param list   which donors are compared
 * @param sums   receives PAIR_SUMS for each of them, in that order
 */
export function pairSumsOf(
  workspace: Workspace,
  target: Readonly<Float32Array>,
  weight: Readonly<Float32Array>,
  donors: KnownRows,
  list: Readonly<Int32Array>,
  sums: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.pairSumsOf(
      room.read(target),
      room.read(weight),
      target.length,
      room.read(donors.samples) + 4 * donors.from,
      room.read(donors.validity) + donors.from,
      donors.length,
      room.read(donors.usual),
      room.read(donors.known),
      room.read(list),
      list.length,
      room.space(8 * KNOWN * kernels.blocksIn(target.length)),
      room.write(sums),
    ),
  )
}
