import { Worker } from 'node:worker_threads'
import { expect, test } from 'vitest'
import { OffcutError, outOfMemory } from '../src/errors.js'

function thrownBy(failing: () => unknown): unknown {
  try {
    failing()
  } catch (error) {
    return error
  }
  throw new TypeError('expected an error')
}

/** A thread whose heap is full. */
function fullThread(): Promise<unknown> {
  const filling = 'const all = []; for (;;) all.push(new Array(1000).fill(0.5))'
  const worker = new Worker(filling, { eval: true, resourceLimits: { maxOldGenerationSizeMb: 8 } })
  return new Promise((resolve) => worker.once('error', resolve))
}

// The words are the engine's own: each of these really lacks memory.
test.each([
  ['an array', async () => thrownBy(() => new ArrayBuffer(2 ** 52))],
  [
    'memory of kernels',
    async () => thrownBy(() => new WebAssembly.Memory({ initial: 1, maximum: 2 }).grow(2)),
  ],
  ['a thread', fullThread],
])('%s that finds no room is said to be lack of memory, with what to do', async (_, failing) => {
  const said = outOfMemory(await failing())
  expect(said).toMatchObject({ code: 'OUT_OF_MEMORY', exitCode: 1 })
  expect(said!.message).toMatch(/^there is not enough memory .*: close .* smaller region/)
  // From another thread comes the message alone.
  expect(outOfMemory(new Error(said!.message))).toMatchObject({ code: 'OUT_OF_MEMORY' })
})

test.each([
  ['a wrong length', thrownBy(() => new Float32Array(-1))],
  [
    'a file of that name',
    new OffcutError('FRAME_UNREADABLE', "out of memory.exr can't be read: copy it again"),
  ],
  ['no error', 'out of memory'],
])('%s is no lack of memory', (_, thrown) => {
  expect(outOfMemory(thrown)).toBeNull()
})
