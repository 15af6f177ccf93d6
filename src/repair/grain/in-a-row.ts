// Which donors lend the grain of each target frame: frames that were shot in a row, for what a codec carries from one to the
// next and where it leaves everything as it was to be the plate's own.
import type { StackShare } from '../../search/result.js'

/** Fewer frames in a row come back so soon that they are seen to. */
export const MIN_IN_ROW = 4

/**
 * The longest row of frames that follow each other, or where frames have nothing in common all of them, in their order; of
 * rows of one length that of the largest shares.
 *
 * @param shares of a stack, each plate by itself
 * @param isRenewed each frame's grain is another one
 * @param holds     only a row that has this frame; null: any
 * @returns null where fewer than MIN_IN_ROW do
 */
export function inARow(
  shares: readonly StackShare[],
  isRenewed: boolean,
  holds: Pick<StackShare, 'plate' | 'frame'> | null,
): readonly StackShare[] | null {
  const rows = rowsOf(shares, isRenewed)
  const weight = (row: readonly StackShare[]) => row.reduce((sum, s) => sum + s.weight, 0)
  rows.sort((a, b) => b.length - a.length || weight(b) - weight(a))
  const longest =
    holds === null
      ? rows[0]
      : rows.find((row) => row.some((s) => s.plate === holds.plate && s.frame === holds.frame))
  return longest ?? null
}

/** All rows of at least MIN_IN_ROW. */
export function rowsOf(shares: readonly StackShare[], isRenewed: boolean): StackShare[][] {
  const inOrder = [...shares].sort((a, b) => a.plate - b.plate || a.frame - b.frame)
  const rows: StackShare[][] = []
  for (const share of inOrder) {
    const last = rows.at(-1)?.at(-1)
    const follows = last?.plate === share.plate && (isRenewed || share.frame === last.frame + 1)
    if (follows) rows.at(-1)!.push(share)
    else rows.push([share])
  }
  return rows.filter((row) => row.length >= MIN_IN_ROW)
}

/** Forwards and backwards through a row, as long as it takes: neighbours stay neighbours. @returns an index into the row */
export function toAndFro(index: number, length: number): number {
  const at = index % (2 * length - 2)
  return at < length ? at : 2 * length - 2 - at
}
