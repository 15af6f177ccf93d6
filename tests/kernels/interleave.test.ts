// Three planes into pixels against the definition, whatever the halves are and wherever they lie.
import { afterAll, expect, test } from 'vitest'
import { interleave } from '../../src/kernels/interleave.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'
import { Guarded } from './guarded.js'

const workspace = new Workspace()
afterAll(() => workspace.close())

/** Not a number, with the bit set that says it is quiet. */
const quiet = (half: number): number => ((half & 0x7fff) > 0x7c00 ? half | 0x200 : half)

test('pixels of any width have their samples in order, and only what is not a number changes', () => {
  const random = randomFrom('interleave')
  for (const [count, rows, gap] of [
    [1, 1, 0],
    [7, 3, 2],
    [8, 2, 0],
    [21, 4, 33],
    [64, 1, 5],
  ]) {
    const pitch = 2 * count + gap
    const length = (rows - 1) * pitch + 2 * count
    for (const inWorkspace of [false, true]) {
      workspace.within((scratch) => {
        const guarded = new Guarded(scratch)
        const planes = [0, 1, 2].map(() => {
          const bytes = Uint8Array.from({ length }, () => 256 * random())
          return inWorkspace ? guarded.bytes(bytes) : bytes
        })
        const out = guarded.words(3 * count * rows)
        interleave(workspace, planes, pitch, count, rows, out)
        guarded.check()
        for (let y = 0, i = 0; y < rows; y++) {
          for (let x = 0; x < count; x++) {
            for (let c = 0; c < 3; c++, i++) {
              const at = y * pitch + 2 * x
              expect(out[i]).toBe(quiet(planes[c][at] | (planes[c][at + 1] << 8)))
            }
          }
        }
      })
    }
  }
})
