// Outlines filled in a picture.
import type { Workspace } from './workspace.js'

/** What is filled with one grey: outlines side by side, and the rectangle that all of them lie in. */
export interface Filled {
  readonly outlines: readonly Outline[]
  /** Pixels of the picture; whole. */
  readonly left: number
  readonly top: number
  readonly width: number
  readonly height: number
  /** Code, 0 to 255. */
  readonly grey: number
}

export interface Outline {
  /** Its straight edges, closed: x0, y0, x1, y1 each. */
  readonly edges: Readonly<Float32Array>
  /** Pixels per unit of the edges, and where their origin lies in the picture. */
  readonly scale: number
  readonly x: number
  readonly y: number
}

/** Rows of the picture that are worked on in one go. */
const ROWS = 256

/**
 * Fills outlines by the area that they cover of each pixel. Where they overlap they cover together no more than all of it.
 *
 * @param samples 8-bit RGB, `width` pixels a row, changed
 * @param filled  each within the picture
 */
export function fillOutlines(
  workspace: Workspace,
  samples: Uint8Array,
  width: number,
  filled: readonly Filled[],
): void {
  const byTop = [...filled].sort((a, b) => a.top - b.top)
  for (let at = 0; at < byTop.length; ) {
    const { top } = byTop[at]!
    let end = at
    let bottom = top
    while (end < byTop.length && byTop[end]!.top < top + ROWS) {
      bottom = Math.max(bottom, byTop[end]!.top + byTop[end]!.height)
      end++
    }
    fillAll(
      workspace,
      samples.subarray(3 * width * top, 3 * width * bottom),
      width,
      top,
      byTop.slice(at, end),
    )
    at = end
  }
}

function fillAll(
  workspace: Workspace,
  band: Uint8Array,
  width: number,
  top: number,
  filled: readonly Filled[],
): void {
  workspace.run((kernels, room) => {
    const to = room.change(band)
    for (const { outlines, grey, ...box } of filled) {
      workspace.within((scratch) => {
        // An edge on the right border changes the pixel beyond it.
        const pitch = box.width + 2
        const sums = scratch.floats(pitch * box.height + 1)
        sums.fill(0)
        for (const { edges, scale, x, y } of outlines)
          workspace.run((_, inner) =>
            kernels.addEdges(
              inner.read(edges),
              edges.length / 4,
              scale,
              x - box.left,
              y - box.top,
              sums.byteOffset,
              pitch,
            ),
          )
        const first = to + 3 * ((box.top - top) * width + box.left)
        kernels.layCovered(sums.byteOffset, pitch, box.width, box.height, first, 3 * width, grey)
      })
    }
  })
}
