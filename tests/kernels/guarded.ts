// Arrays in a workspace with bytes round them that nobody may write.
import { expect } from 'vitest'
import type { Scratch } from '../../src/kernels/workspace.js'

const GUARD = 64
const MARK = 0x5a

/** Takes bytes from a workspace, and says later whether those round them are as they were. */
export class Guarded {
  readonly #guards: Uint8Array[] = []
  constructor(private readonly scratch: Scratch) {
    this.#guard()
  }

  /** As many bytes as are given, holding them. */
  bytes(content: Readonly<Uint8Array>): Uint8Array {
    const out = this.scratch.bytes(content.length)
    out.set(content)
    this.#guard()
    return out
  }

  /** Zeros at first. */
  words(length: number): Uint16Array {
    const { buffer, byteOffset } = this.bytes(new Uint8Array(2 * length))
    return new Uint16Array(buffer, byteOffset, length)
  }

  check(): void {
    for (const guard of this.#guards) expect(guard.every((byte) => byte === MARK)).toBe(true)
  }

  #guard(): void {
    this.#guards.push(this.scratch.bytes(GUARD).fill(MARK))
  }
}
