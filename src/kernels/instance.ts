// The compiled loops (`assembly/`) and the memory that one instance of them works in. What each does is said at its source.
import { readFileSync } from 'node:fs'
import type { instantiate } from './kernels.js'

/** Pointers are bytes into the memory, lengths are samples. As the compiler declares them. */
export type Kernels = Omit<Awaited<ReturnType<typeof instantiate>>, 'memory'>

const INITIAL_PAGES = 17
const MAX_PAGES = 65536

/** Immutable: every instance is made from it. */
const compiled = new WebAssembly.Module(readFileSync(new URL('./kernels.wasm', import.meta.url)))

export interface Instance {
  readonly kernels: Kernels
  readonly memory: WebAssembly.Memory
}

/**
 * Instances that nobody works in. The engine does not count shared memory when it decides to collect garbage (60 dropped
 * memories of 50 MiB were all still there, where of unshared ones two were), so they are used again.
 */
const idle: Instance[] = []
/** More than this is left to the collector, */
const MAX_IDLE = 2
/** ... and so is memory that has grown beyond this, bytes: it can't shrink, and the next may be a small one. */
const MAX_IDLE_BYTES = 96 * 2 ** 20

/** An instance for one owner; its memory holds anything. */
export function takeInstance(): Instance {
  const found = idle.pop()
  if (found !== undefined) return found
  // Shared, because then views of it outlive its growth.
  const memory = new WebAssembly.Memory({ initial: INITIAL_PAGES, maximum: MAX_PAGES, shared: true })
  const { exports } = new WebAssembly.Instance(compiled, { env: { memory } })
  return { kernels: exports as unknown as Kernels, memory }
}

export function giveBack(instance: Instance): void {
  const { byteLength } = instance.memory.buffer
  if (idle.length < MAX_IDLE && byteLength <= MAX_IDLE_BYTES) idle.push(instance)
  else countAsGarbage(byteLength)
}

/**
 * Has the engine count memory that was dropped: as much that it does count is dropped with it, and never touched, so that it
 * takes none. Of 60 memories of 50 MiB, dropped one after the other, 3105 MiB were there in the end without and 400 with.
 */
function countAsGarbage(byteLength: number): void {
  try {
    void new ArrayBuffer(byteLength)
  } catch {
    // Where there is no room for it the engine has looked for garbage already.
  }
}
