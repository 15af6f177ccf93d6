// Which stretches of a memory nobody uses: taken from, given back, and made one again where they lie beside each other, so
// that what many small buffers lay in serves a large one afterwards. Places are bytes; nothing of the memory is touched.

/** `at` up to `end`, not empty. */
export interface Block {
  readonly at: number
  readonly end: number
}

export class FreeBlocks {
  /** In the order of the memory, none beside another. */
  readonly #blocks: Block[] = []

  /** So many bytes of the smallest block that has them; null where none has. */
  take(byteLength: number): Block | null {
    const blocks = this.#blocks
    let best = -1
    for (let i = 0; i < blocks.length; i++) {
      const size = sizeOf(blocks[i])
      if (size >= byteLength && (best < 0 || size < sizeOf(blocks[best]))) best = i
    }
    if (best < 0) return null
    const { at, end } = blocks[best]
    const taken = { at, end: at + byteLength }
    if (taken.end === end) blocks.splice(best, 1)
    else blocks[best] = { at: taken.end, end }
    return taken
  }

  /** Takes the block that ends there, whatever its size; null where none does. */
  takeEndingAt(end: number): Block | null {
    return this.#blocks.at(-1)?.end === end ? this.#blocks.pop()! : null
  }

  /** @param block of which nobody uses anything */
  give({ at, end }: Block): void {
    const blocks = this.#blocks
    let i = 0
    while (i < blocks.length && blocks[i].at < at) i++
    const joinsBefore = i > 0 && blocks[i - 1].end === at
    const joinsAfter = i < blocks.length && blocks[i].at === end
    const joined = {
      at: joinsBefore ? blocks[i - 1].at : at,
      end: joinsAfter ? blocks[i].end : end,
    }
    blocks.splice(joinsBefore ? i - 1 : i, Number(joinsBefore) + Number(joinsAfter), joined)
  }
}

function sizeOf({ at, end }: Block): number {
  return end - at
}
