// The memory of one search, one worker or one repair. Kernels work in it; scratch in it is taken for the length of a call
// and given back when the call ends, so that thousands of frames don't each allocate theirs. Nothing in it is global.
import { type Block, FreeBlocks } from './free-blocks.js'
import { giveBack, type Instance, type Kernels, takeInstance } from './instance.js'

const PAGE_BYTES = 65536
/** Vectors are 16 bytes wide: every buffer begins at one and has room for a whole number of them. */
const ALIGNMENT = 16
/** Scratch is taken from stretches of at least this size. */
const STRETCH_BYTES = 1 << 20
/** The most numbers that a kernel answers with. */
const MAX_ANSWER = 8
/** What is poisoned is NaN as float32 and as float64, -1 as int32, and no validity. */
const POISON = 0xff
/** Where scratch is poisoned so much of it is not taken again at once, so that a stale view does not show new samples. */
const QUARANTINE_BYTES = 1 << 23

/** Buffers in a workspace; what they hold at first is left over from the last use. */
export interface Scratch {
  /** `length` samples. @throws RangeError past 4 GiB */
  floats(length: number): Float32Array
  /** The same, all 0. */
  zeros(length: number): Float32Array
  bytes(length: number): Uint8Array
  integers(length: number): Int32Array
  doubles(length: number): Float64Array
  /** Samples that many calls will read: as they are where they lie in the workspace, else a copy there. */
  laid(samples: Readonly<Float32Array>): Readonly<Float32Array>
}

/** Scratch that outlives a call: whoever asked for it says when it is no longer needed. */
export interface Held extends Scratch {
  release(): void
}

type Samples = Float32Array | Float64Array | Int32Array | Uint16Array | Uint8Array

/** Where kernels find their samples, for the length of one call. Pointers are bytes into the workspace's memory. */
export interface Room {
  /** Samples that a kernel reads: in place where they lie in the workspace, else copied in. */
  read(samples: Readonly<Samples>): number
  /** Samples all of which a kernel writes: in place, or copied out when the call ends. */
  write(samples: Samples): number
  /** Samples that a kernel changes: in place, or copied in, and out when the call ends. */
  change(samples: Samples): number
  /** Room that a kernel works in. */
  space(byteLength: number): number
  /** Where a kernel puts the few numbers that it answers with, to be read before the next is asked. */
  readonly answer: Float64Array
}

export class Workspace {
  /** Undefined once it is closed. */
  #instance: Instance | undefined
  readonly #poison: boolean
  /** The first page is the kernels' own. */
  #unused = PAGE_BYTES
  /** Scratch in use reaches to `top` of the last stretch; those before it are in use, too. */
  readonly #stretches: Block[] = []
  #top = 0
  /** Calls within each other. */
  #depth = 0
  /** What neither scratch nor anybody who holds it is in: either may lie there next. */
  readonly #free = new FreeBlocks()
  readonly #toCopyOut: { samples: Samples; at: number }[] = []
  #buffer: ArrayBufferLike
  readonly #room: Room
  /** Of the memory as it grew. */
  readonly #buffers = new WeakSet<ArrayBufferLike>()

  /**
   * @param options.poison fill scratch with NaN when its call ends, and new memory, so that a view kept too long, or read
   *   before it is written, shows; by default where the environment has OFFCUT_POISON=1, as the tests do
   */
  constructor({ poison = process.env.OFFCUT_POISON === '1' }: { poison?: boolean } = {}) {
    this.#instance = takeInstance()
    this.#poison = poison
    this.#buffer = this.#instance.memory.buffer
    this.#buffers.add(this.#buffer)
    const answer = new Float64Array(this.#buffer, this.#fresh(8 * MAX_ANSWER).at, MAX_ANSWER)
    this.#room = { ...this.#access, answer }
    this.#stretches.push(this.#fresh(STRETCH_BYTES))
    this.#top = this.#stretches[0].at
  }

  /** Gives the memory back: nothing can be asked of the workspace, and no view of it must be used, afterwards. */
  close(): void {
    if (this.#instance === undefined) return
    this.#spoil(PAGE_BYTES, this.#unused)
    giveBack(this.#instance)
    this.#instance = undefined
  }

  /** Memory taken so far; what has been given back is used again, so that it stops growing. */
  get byteLength(): number {
    return this.#unused
  }

  /** Calls `use` with scratch that lasts until it returns; no view of it must be kept. Such calls may lie in each other. */
  within<T>(use: (scratch: Scratch) => T): T {
    return this.#call(() => use(this.#scratch))
  }

  /** As `within`, for the kernels' wrappers. */
  run<T>(use: (kernels: Kernels, room: Room) => T): T {
    return this.#call(() => use(this.#open().kernels, this.#room))
  }

  /** Scratch that lasts until it is released. */
  hold(): Held {
    const held: Block[] = []
    const take = (byteLength: number): number => {
      const block = this.#block(byteLength)
      held.push(block)
      return block.at
    }
    return {
      ...this.#viewsOf(take),
      release: () => {
        for (const block of held.splice(0)) {
          this.#spoil(block.at, block.end)
          this.#free.give(block)
        }
      },
    }
  }

  /** @throws Error where it is closed: a frame that was still being read when its search was called off has none */
  #open(): Instance {
    if (this.#instance === undefined) throw new Error('the workspace is closed')
    return this.#instance
  }

  #call<T>(use: () => T): T {
    this.#open()
    const current = this.#stretches.length - 1
    const top = this.#top
    const out = this.#toCopyOut.length
    this.#depth++
    try {
      const result = use()
      for (let i = out; i < this.#toCopyOut.length; i++) {
        const { samples, at } = this.#toCopyOut[i]
        copy(new Uint8Array(this.#buffer, at, samples.byteLength), bytesOf(samples))
      }
      return result
    } finally {
      this.#toCopyOut.length = out
      this.#depth--
      if (this.#poison) this.#spoilFrom(current, top)
      const { at } = this.#stretches[0]
      if (!this.#poison || this.#top - top > QUARANTINE_BYTES) this.#backTo(current, top)
      else if (this.#depth === 0 && this.#top - at > QUARANTINE_BYTES) this.#backTo(0, at)
    }
  }

  #backTo(current: number, top: number): void {
    while (this.#stretches.length > current + 1) this.#free.give(this.#stretches.pop()!)
    this.#top = top
  }

  #viewsOf(take: (byteLength: number) => number): Scratch {
    const floats = (length: number): Float32Array => {
      const at = take(4 * length)
      return new Float32Array(this.#buffer, at, length)
    }
    return {
      floats,
      // The engine fills shared memory sample by sample.
      zeros: (length) => {
        const out = floats(length)
        this.#open().kernels.clear(out.byteOffset, out.byteLength)
        return out
      },
      bytes: (length) => {
        const at = take(length)
        return new Uint8Array(this.#buffer, at, length)
      },
      integers: (length) => {
        const at = take(4 * length)
        return new Int32Array(this.#buffer, at, length)
      },
      doubles: (length) => {
        const at = take(8 * length)
        return new Float64Array(this.#buffer, at, length)
      },
      laid: (samples) => {
        if (this.#owns(samples)) return samples
        const laid = floats(samples.length)
        copy(bytesOf(samples), bytesOf(laid))
        return laid
      },
    }
  }

  readonly #scratch: Scratch = this.#viewsOf((byteLength) => this.#take(byteLength))

  readonly #access: Omit<Room, 'answer'> = {
    read: (samples) => (this.#owns(samples) ? samples.byteOffset : this.#copyIn(samples)),
    write: (samples) => {
      if (this.#owns(samples)) return samples.byteOffset
      const at = this.#take(samples.byteLength)
      this.#toCopyOut.push({ samples, at })
      return at
    },
    change: (samples) => {
      if (this.#owns(samples)) return samples.byteOffset
      const at = this.#copyIn(samples)
      this.#toCopyOut.push({ samples, at })
      return at
    },
    space: (byteLength) => this.#take(byteLength),
  }

  #owns({ buffer }: Readonly<Samples>): boolean {
    return buffer === this.#buffer || this.#buffers.has(buffer)
  }

  #copyIn(samples: Readonly<Samples>): number {
    const at = this.#take(samples.byteLength)
    copy(bytesOf(samples), new Uint8Array(this.#buffer, at, samples.byteLength))
    return at
  }

  #take(byteLength: number): number {
    const size = aligned(byteLength)
    if (this.#top + size > this.#stretches[this.#stretches.length - 1].end) {
      const stretch = this.#block(Math.max(STRETCH_BYTES, size))
      this.#stretches.push(stretch)
      this.#top = stretch.at
    }
    const at = this.#top
    this.#top += size
    return at
  }

  /** What is free, or as much new memory as that lacks. */
  #block(byteLength: number): Block {
    const size = Math.max(ALIGNMENT, aligned(byteLength))
    const free = this.#free.take(size)
    if (free !== null) return free
    const last = this.#free.takeEndingAt(this.#unused)
    try {
      const { end } = this.#fresh(size - (last === null ? 0 : last.end - last.at))
      return { at: end - size, end }
    } catch (error) {
      if (last !== null) this.#free.give(last)
      throw error
    }
  }

  #fresh(byteLength: number): Block {
    const at = this.#unused
    const end = at + aligned(byteLength)
    const { memory } = this.#open()
    const lacking = end - memory.buffer.byteLength
    if (lacking > 0) {
      memory.grow(Math.ceil(lacking / PAGE_BYTES))
      this.#buffer = memory.buffer
      this.#buffers.add(this.#buffer)
    }
    this.#unused = end
    this.#spoil(at, end)
    return { at, end }
  }

  #spoilFrom(current: number, top: number): void {
    const last = this.#stretches.length - 1
    for (let k = current; k <= last; k++) {
      const { at, end } = this.#stretches[k]
      this.#spoil(k === current ? top : at, k === last ? this.#top : end)
    }
  }

  #spoil(at: number, end: number): void {
    if (this.#poison) new Uint8Array(this.#buffer, at, end - at).fill(POISON)
  }
}

function aligned(byteLength: number): number {
  return Math.ceil(byteLength / ALIGNMENT) * ALIGNMENT
}

function bytesOf({ buffer, byteOffset, byteLength }: Readonly<Samples>): Uint8Array {
  return new Uint8Array(buffer, byteOffset, byteLength)
}

/** Fewer bytes are copied before the other way has begun. */
const MIN_COPIED = 16_384

/**
 * The engine copies into shared memory and out of it word by word, and byte by byte where one lies at an odd place; a Buffer that is
 * filled with as many bytes as it has is copied as the C library does it: planes of 1.1 MB at 7 GB/s instead of 5, of those that
 * lie four bytes apart 14 times as fast.
 */
function copy(from: Uint8Array, to: Uint8Array): void {
  if (from.byteLength < MIN_COPIED) to.set(from)
  else Buffer.from(to.buffer, to.byteOffset, to.byteLength).fill(from)
}

/** Samples that lie in a workspace, for who keeps them. @param out of their length */
export function ownCopy(
  samples: Readonly<Float32Array>,
  out = new Float32Array(samples.length),
): Float32Array<ArrayBuffer> {
  copy(bytesOf(samples), bytesOf(out))
  return out
}

/** What `use` makes, in a workspace of its own that is closed when it ends or is called off. */
export async function* inWorkspace<E, R>(
  use: (workspace: Workspace) => AsyncGenerator<E, R>,
): AsyncGenerator<E, R> {
  const workspace = new Workspace()
  try {
    return yield* use(workspace)
  } finally {
    workspace.close()
  }
}
