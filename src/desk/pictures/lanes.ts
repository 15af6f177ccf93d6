// Who is served next when a thread gets free: what somebody waits for before what somebody may want soon, and that before
// what is only measured; of those who wait the one that came last, as a scrub has passed by the others.

/** `now`: somebody waits; `soon`: decoded ahead; `later`: in the background. */
export type Lane = 'now' | 'soon' | 'later'

/** While somebody goes through frames nothing is measured: it would take the processor from them. */
const QUIET_MS = 200

interface Waiting {
  readonly start: () => void
}

export class Lanes {
  readonly #waiting: Readonly<Record<Lane, Waiting[]>> = { now: [], soon: [], later: [] }
  #running = 0
  /** Of those that run, how many nobody waits for. */
  #idle = 0
  #lastNow = Number.NEGATIVE_INFINITY
  #quiet: NodeJS.Timeout | null = null

  /** @param width how many run at once; where there are more than one, one is left for those who wait */
  constructor(readonly width: number) {}

  /**
   * Runs a job when its turn comes.
   *
   * @throws the abort reason, where its signal fires before it was begun; and what the job throws
   */
  run<T>(lane: Lane, job: () => Promise<T>, signal?: AbortSignal): Promise<T> {
    return new Promise<T>((resolve, reject) => {
      const leave = () => {
        const queue = this.#waiting[lane]
        const index = queue.indexOf(entry)
        if (index >= 0) queue.splice(index, 1)
        reject(signal!.reason)
      }
      const entry: Waiting = {
        start: () => {
          signal?.removeEventListener('abort', leave)
          this.#running++
          if (lane !== 'now') this.#idle++
          job()
            .then(resolve, reject)
            .finally(() => {
              this.#running--
              if (lane === 'now') this.#lastNow = performance.now()
              else this.#idle--
              this.#next()
            })
        },
      }
      if (signal?.aborted) {
        reject(signal.reason)
        return
      }
      signal?.addEventListener('abort', leave, { once: true })
      if (lane === 'now') this.#lastNow = performance.now()
      this.#waiting[lane].push(entry)
      this.#next()
    })
  }

  #next(): void {
    while (this.#running < this.width) {
      const entry = this.#waiting.now.pop() ?? (this.#hasRoom() ? this.#background() : undefined)
      if (entry === undefined) return
      entry.start()
    }
  }

  #background(): Waiting | undefined {
    const soon = this.#waiting.soon.shift()
    if (soon !== undefined || this.#waiting.later.length === 0) return soon
    // When that ends it is asked again.
    if (this.#running > this.#idle) return undefined
    const wait = this.#lastNow + QUIET_MS - performance.now()
    if (wait <= 0) return this.#waiting.later.shift()
    this.#quiet ??= setTimeout(() => {
      this.#quiet = null
      this.#next()
    }, wait)
    return undefined
  }

  /** Beside each that somebody waits for there is a place for another such; of a lone place all is left to them. */
  #hasRoom(): boolean {
    const waitedFor = this.#running - this.#idle
    return this.#idle < Math.max(waitedFor > 0 ? 0 : 1, this.width - 1 - waitedFor)
  }
}
