// Runs of chunks, several at a time.
import pLimit from 'p-limit'

// two wait for the disk or for zlib's threads while one is being unpacked; more would only take memory
const CHUNKS_AT_ONCE = 4

/** Does `work` with all items, some at a time, and nothing any more when it ends. @throws the first thing that `work` threw */
export async function eachOf<T>(items: readonly T[], work: (item: T) => Promise<void>): Promise<void> {
  const limit = pLimit(CHUNKS_AT_ONCE)
  let failed = false
  const run = async (item: T): Promise<void> => {
    if (failed) return
    try {
      await work(item)
    } catch (error) {
      failed = true
      throw error
    }
  }
  const results = await Promise.allSettled(items.map((item) => limit(run, item)))
  for (const result of results) if (result.status === 'rejected') throw result.reason
}
