// Connected pieces against a straight flood fill.
import { expect, test } from 'vitest'
import { eachPiece } from '../../src/kernels/pieces.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()

function pieces(marked: Uint8Array, mask: Uint8Array, width: number): number[][] {
  const found: number[][] = []
  eachPiece(workspace, marked, mask, width, (piece) => found.push([...piece].sort((a, b) => a - b)))
  return found
}

/** Each pixel takes the least label of its eight neighbours until nothing changes. */
function plainPieces(marked: Uint8Array, mask: Uint8Array, width: number): number[][] {
  const label = Array.from(marked, (on, i) => (on ? i : -1))
  for (let changed = true; changed; ) {
    changed = false
    for (let i = 0; i < label.length; i++) {
      if (label[i] < 0) continue
      for (let n = 0; n < label.length; n++) {
        const near =
          Math.abs((n % width) - (i % width)) <= 1 &&
          Math.abs(Math.floor(n / width) - Math.floor(i / width)) <= 1
        if (!near || label[n] < 0 || label[n] >= label[i]) continue
        label[i] = label[n]
        changed = true
      }
    }
  }
  const by = new Map<number, number[]>()
  for (const [i, l] of label.entries()) if (l >= 0) by.set(l, [...(by.get(l) ?? []), i])
  const inMask = (piece: number[]) => piece.find((i) => mask[i] === 1)
  return [...by.values()]
    .filter((piece) => inMask(piece) !== undefined)
    .sort((a, b) => inMask(a)! - inMask(b)!)
}

test.each([
  { width: 1, height: 9, share: 0.6 },
  { width: 9, height: 1, share: 0.6 },
  { width: 13, height: 11, share: 0.2 },
  { width: 13, height: 11, share: 0.4 },
  { width: 8, height: 8, share: 1 },
  { width: 8, height: 8, share: 0 },
])('$width x $height pixels of which $share are marked', ({ width, height, share }) => {
  const random = randomFrom(`pieces ${width} ${share}`)
  const marked = Uint8Array.from({ length: width * height }, () => (random() < share ? 1 : 0))
  const mask = Uint8Array.from({ length: width * height }, () => (random() < 0.5 ? 1 : 0))
  expect(pieces(marked, mask, width)).toEqual(plainPieces(marked, mask, width))
})
