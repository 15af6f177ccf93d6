// The predictor of RLE and ZIP against a straight twin and against OpenEXR's own order of bytes (ImfZip, from memory): first
// differences from byte to byte, less 128, of a list that holds all even bytes before all odd ones.
import fc from 'fast-check'
import { afterAll, expect, test } from 'vitest'
import { undoPredictor as undoIn } from '../../src/kernels/bytes.js'
import { Workspace } from '../../src/kernels/workspace.js'

const workspace = new Workspace()
afterAll(() => workspace.close())

function undoPredictor(bytes: Readonly<Uint8Array>): Uint8Array {
  const out = new Uint8Array(bytes.length)
  undoIn(workspace, bytes, out)
  return out
}

/** What OpenEXR does when it writes. */
function predicted(bytes: Readonly<Uint8Array>): Uint8Array {
  const apart = [...bytes.filter((_, i) => i % 2 === 0), ...bytes.filter((_, i) => i % 2 === 1)]
  return Uint8Array.from(apart, (v, i) => (i === 0 ? v : v - apart[i - 1] + 128))
}

/** Byte by byte. */
function undone(bytes: Readonly<Uint8Array>): Uint8Array {
  const half = (bytes.length + 1) >> 1
  const out = new Uint8Array(bytes.length)
  let sum = 128
  for (let from = 0; from < bytes.length; from++) {
    sum = (sum + bytes[from] - 128) & 255
    out[from < half ? 2 * from : 2 * (from - half) + 1] = sum
  }
  return out
}

const any = fc.uint8Array({ minLength: 1, maxLength: 300 })

test('what was written comes back, whatever it was and however long', () => {
  fc.assert(
    fc.property(any, (bytes) => {
      expect(undoPredictor(predicted(bytes))).toEqual(bytes)
    }),
  )
})

test('bytes that nobody wrote become what the straight sums make of them', () => {
  fc.assert(
    fc.property(any, (bytes) => {
      expect(undoPredictor(bytes)).toEqual(undone(bytes))
    }),
  )
})

test('the bytes that are given stay as they are', () => {
  const given = Uint8Array.from({ length: 50 }, (_, i) => 5 * i)
  undoPredictor(given)
  expect(given).toEqual(Uint8Array.from({ length: 50 }, (_, i) => 5 * i))
})
