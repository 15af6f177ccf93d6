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
/** More than this is left to the collector. */
const MAX_IDLE = 2

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
  if (idle.length < MAX_IDLE) idle.push(instance)
}
