// Several pieces of asynchronous work at a time, handed on as they get ready. p-limit bounds what is waited for as a whole; a
// stream must not begin more than its listener takes.

/**
 * Runs `work` (which must not reject) over all items, `atOnce` at a time, yielding results as they come. An item is asked
 * for when its work begins. Stopping early (break) starts no more.
 */
export async function* asTheyCome<T, R>(
  items: Iterable<T>,
  atOnce: number,
  work: (item: T) => Promise<R>,
): AsyncGenerator<R> {
  const running = new Map<number, Promise<{ key: number; result: R }>>()
  const source = items[Symbol.iterator]()
  let begun = 0
  let ended = false
  for (;;) {
    while (!ended && running.size < atOnce) {
      const next = source.next()
      ended = next.done === true
      if (next.done) break
      const key = begun++
      running.set(
        key,
        work(next.value).then((result) => ({ key, result })),
      )
    }
    if (running.size === 0) return
    const { key, result } = await Promise.race(running.values())
    running.delete(key)
    yield result
  }
}
