// Buffers that hot loops use again, so that thousands of frames don't each allocate theirs.

/** Named buffers that grow to the largest size asked for. What they hold is left over from the last use. */
export class Scratch {
  readonly #kept = new Map<string, Float32Array>()

  /** `length` samples under a name; the same name asked for again is the same buffer. */
  take(name: string, length: number): Float32Array {
    let buffer = this.#kept.get(name)
    if (buffer === undefined || buffer.length < length) {
      buffer = new Float32Array(length)
      this.#kept.set(name, buffer)
    }
    return buffer.length === length ? buffer : buffer.subarray(0, length)
  }
}
