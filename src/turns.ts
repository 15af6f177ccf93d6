// Long work in short turns. Arithmetic over a whole shot is written as steps (a generator that stops at every frame, row or
// block), and a turn runs as many of them as fit: between turns the event loop is free, and a search can be called off.

/** A turn lasts this long, milliseconds; the step that ends it comes on top. A third of what a page or a bar would feel. */
const TURN_MS = 16

/** Work that can stop anywhere it yields; what it yields is heard by whoever listens, undefined by nobody. */
export type Steps<T, E = undefined> = Generator<E | undefined, T, void>

/** Runs the steps of one search. */
export class Turns {
  #since = performance.now()

  constructor(readonly signal?: AbortSignal) {}

  /** Lets the event loop go where the turn is over. @throws the abort reason when `signal` has fired */
  async pause(): Promise<void> {
    if (performance.now() - this.#since < TURN_MS) return
    await new Promise(setImmediate)
    this.#since = performance.now()
    this.signal?.throwIfAborted()
  }

  /** @throws as `pause` */
  async run<T>(steps: Steps<T, unknown>): Promise<T> {
    for (;;) {
      const next = steps.next()
      if (next.done) return next.value
      await this.pause()
    }
  }

  /** As `run`, handing on what the steps tell. */
  async *heard<T, E>(steps: Steps<T, E>): AsyncGenerator<E, T> {
    for (;;) {
      const next = steps.next()
      if (next.done) return next.value
      if (next.value !== undefined) yield next.value
      await this.pause()
    }
  }
}

/** Runs steps without a stop. */
export function atOnce<T>(steps: Steps<T, unknown>): T {
  for (;;) {
    const next = steps.next()
    if (next.done) return next.value
  }
}

/**
 * What comes from `source` until it ends or `signal` fires; then whatever it is waiting for is not waited for.
 *
 * @throws the abort reason
 */
export async function* untilAborted<T, R>(
  source: AsyncGenerator<T, R>,
  signal?: AbortSignal,
): AsyncGenerator<T, R> {
  if (signal === undefined) return yield* source
  signal.throwIfAborted()
  // A promise of its own for every wait: one that outlives them all would hold on to everything that ever came.
  let callOff = () => {}
  const abort = () => callOff()
  signal.addEventListener('abort', abort, { once: true })
  const next = () =>
    new Promise<IteratorResult<T, R>>((resolve, reject) => {
      callOff = () => reject(signal.reason)
      source.next().then(resolve, reject)
    })
  let ended = false
  try {
    for (;;) {
      const one = await next()
      if (one.done) {
        ended = true
        return one.value
      }
      yield one.value
      signal.throwIfAborted()
    }
  } finally {
    signal.removeEventListener('abort', abort)
    const closed = ended ? undefined : source.return(undefined as R)
    // Called off, nobody waits for what is still being read.
    if (signal.aborted) closed?.catch(() => {})
    else await closed
  }
}

/** What comes from `source`, told in other words; what it returns stays. */
export async function* inWords<T, E, R>(
  source: AsyncGenerator<T, R>,
  words: (one: T) => E,
): AsyncGenerator<E, R> {
  let ended = false
  try {
    for (;;) {
      const next = await source.next()
      if (next.done) {
        ended = true
        return next.value
      }
      yield words(next.value)
    }
  } finally {
    if (!ended) await source.return(undefined as R)
  }
}

/** What comes from `source`, the first of which is being made already, before anybody asks for it. Closed unheard, it is closed, too. */
export function begun<T, R>(source: AsyncGenerator<T, R>): AsyncGenerator<T, R> {
  let first: Promise<IteratorResult<T, R>> | undefined = source.next()
  // Who asks for it hears what it failed by.
  first.catch(() => {})
  return {
    next: () => {
      const next = first ?? source.next()
      first = undefined
      return next
    },
    return: (value) => source.return(value),
    throw: (error) => source.throw(error),
    [Symbol.asyncIterator]() {
      return this
    },
  }
}
