// Several pieces of asynchronous work at a time, handed on as they get ready. p-limit bounds what is waited for as a whole; a
// stream must not begin more than its listener takes.

/**
 * Runs `work` (which must not reject) over all items, `atOnce` at a time, yielding results as they come. Stopping early
 * (break) starts no more.
 */
export async function* asTheyCome<T, R>(
  items: readonly T[],
  atOnce: number,
  work: (item: T) => Promise<R>,
): AsyncGenerator<R> {
  const running = new Map<number, Promise<{ key: number; result: R }>>()
  let next = 0
  while (next < items.length || running.size > 0) {
    while (next < items.length && running.size < atOnce) {
      const key = next++
      running.set(
        key,
        work(items[key]!).then((result) => ({ key, result })),
      )
    }
    const { key, result } = await Promise.race(running.values())
    running.delete(key)
    yield result
  }
}
