// What is told so often that only the last of it matters: passed on at once, then at most so often, and the last always.
import type { Message } from './messages.js'

export class Paced {
  readonly #last = new Map<string, { at: number; waiting?: { message: Message; timer: NodeJS.Timeout } }>()

  constructor(readonly tell: (message: Message) => void) {}

  /** @param key of what replaces each other  @param everyMs two of them lie at least so far apart */
  pass(key: string, message: Message, everyMs: number): void {
    const last = this.#last.get(key)
    if (last?.waiting !== undefined) {
      last.waiting.message = message
      return
    }
    const wait = last === undefined ? 0 : last.at + everyMs - performance.now()
    if (wait <= 0) {
      this.#last.set(key, { at: performance.now() })
      this.tell(message)
      return
    }
    this.#last.set(key, {
      at: last!.at,
      waiting: { message, timer: setTimeout(() => this.#release(key), wait) },
    })
  }

  #release(key: string): void {
    const waiting = this.#last.get(key)?.waiting
    this.#last.set(key, { at: performance.now() })
    if (waiting !== undefined) this.tell(waiting.message)
  }

  /** What waits is passed on now, and what came before is forgotten. */
  end(key: string): void {
    const waiting = this.#last.get(key)?.waiting
    this.#last.delete(key)
    if (waiting === undefined) return
    clearTimeout(waiting.timer)
    this.tell(waiting.message)
  }
}
