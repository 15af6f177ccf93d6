// Pixels that hang together.
import type { Workspace } from './workspace.js'

/**
 * The connected pieces, corners included, of marked pixels that have at least one pixel within a mask, by their first pixel
 * there. Each is a list of indices that lasts until the next is asked for.
 *
 * @param marked,mask 1 or 0 per pixel
 * @param see         gets one piece after the other
 */
export function eachPiece(
  workspace: Workspace,
  marked: Readonly<Uint8Array>,
  mask: Readonly<Uint8Array>,
  width: number,
  see: (piece: Readonly<Int32Array>) => void,
): void {
  const { length } = marked
  workspace.within((scratch) => {
    const [marks, masked, seen] = [0, 1, 2].map(() => scratch.bytes(length))
    const queue = scratch.integers(length)
    marks.set(marked)
    masked.set(mask)
    seen.fill(0)
    for (let start = 0; ; start++) {
      start = workspace.run((kernels, room) =>
        kernels.nextPiece(room.read(marks), room.read(masked), room.read(seen), start, length),
      )
      if (start === length) return
      const n = workspace.run((kernels, room) =>
        kernels.connected(
          room.read(marks),
          width,
          length / width,
          start,
          room.change(seen),
          room.change(queue),
        ),
      )
      see(queue.subarray(0, n))
    }
  })
}
