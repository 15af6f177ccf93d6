// Work that several wait for is done once: who asks for what is under way shares it, and it is given up when nobody waits any more.

interface Work<T> {
  readonly done: Promise<T>
  readonly control: AbortController
  waiting: number
}

export class Shared<T> {
  readonly #under = new Map<string, Work<T>>()

  /**
   * @param key  of what is the same work
   * @param wait fires when this one no longer waits
   * @param work is told when nobody waits any more
   * @throws what the work throws; the reason of `wait`
   */
  async of(key: string, wait: AbortSignal, work: (wanted: AbortSignal) => Promise<T>): Promise<T> {
    wait.throwIfAborted()
    const shared = this.#under.get(key) ?? this.#begun(key, work)
    shared.waiting++
    return new Promise<T>((resolve, reject) => {
      const leave = () => {
        shared.waiting--
        if (shared.waiting === 0) {
          this.#forget(key, shared)
          shared.control.abort(wait.reason)
        }
        reject(wait.reason)
      }
      wait.addEventListener('abort', leave, { once: true })
      shared.done.then(resolve, reject).finally(() => wait.removeEventListener('abort', leave))
    })
  }

  #begun(key: string, work: (wanted: AbortSignal) => Promise<T>): Work<T> {
    const control = new AbortController()
    const begun = { done: work(control.signal), control, waiting: 0 }
    this.#under.set(key, begun)
    const end = () => this.#forget(key, begun)
    begun.done.then(end, end)
    return begun
  }

  #forget(key: string, work: Work<T>): void {
    if (this.#under.get(key) === work) this.#under.delete(key)
  }
}
