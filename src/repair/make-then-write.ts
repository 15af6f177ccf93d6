// Frames that are made one after the other and written behind, while the next ones are made.

/** Frames that are being written at a time: more would only wait for the disk and zlib's threads, each with a whole frame. */
const WRITTEN_AT_ONCE = 2

/**
 * Makes every item in turn; what has been made is written meanwhile, up to two at a time and in no certain order. When it
 * ends, well or not, nothing is being written any more.
 *
 * @throws what `make` threw, or the first that `write` threw; nothing is made after that
 */
export async function makeThenWrite<T, M>(
  items: readonly T[],
  make: (item: T) => Promise<M>,
  write: (made: M, item: T) => Promise<void>,
): Promise<void> {
  const writing = new Set<Promise<void>>()
  let failed: { readonly cause: unknown } | undefined
  try {
    for (const item of items) {
      const made = await make(item)
      while (writing.size >= WRITTEN_AT_ONCE) await Promise.race(writing)
      if (failed !== undefined) break
      const written: Promise<void> = write(made, item)
        .catch((cause: unknown) => {
          failed ??= { cause }
        })
        .finally(() => writing.delete(written))
      writing.add(written)
    }
  } finally {
    await Promise.all(writing)
  }
  if (failed !== undefined) throw failed.cause
}
