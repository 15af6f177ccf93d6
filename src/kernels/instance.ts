// The compiled loops (`assembly/`) and the memory that one instance of them works in. What each does is said at its source.
import { readFileSync } from 'node:fs'
import type { instantiate } from './kernels.js'

/** Pointers are bytes into the memory, lengths are samples. As the compiler declares them. */
export type Kernels = Omit<Awaited<ReturnType<typeof instantiate>>, 'memory'>

const INITIAL_PAGES = 17
const MAX_PAGES = 65536

/** Immutable: every instance is made from it. */
const compiled = new WebAssembly.Module(readFileSync(new URL('./kernels.wasm', import.meta.url)))

export function instance(): { kernels: Kernels; memory: WebAssembly.Memory } {
  // Shared, because then views of it outlive its growth.
  const memory = new WebAssembly.Memory({ initial: INITIAL_PAGES, maximum: MAX_PAGES, shared: true })
  const { exports } = new WebAssembly.Instance(compiled, { env: { memory } })
  return { kernels: exports as unknown as Kernels, memory }
}
