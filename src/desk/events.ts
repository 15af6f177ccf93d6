// Every page that is open hears of everything, in order: server-sent events (WHATWG HTML, section 9.2), a message each.
import type { Message } from './messages.js'

/** A page that does not read what it is sent is let go when so much waits for it; it comes back and is told anew. */
const MAX_WAITING_BYTES = 16 * 2 ** 20
/** Lets a page and a server learn that the other one has gone. */
const HEARTBEAT_MS = 15_000

interface Listener {
  send(text: string): void
  end(): void
}

export class Events {
  readonly #listeners = new Set<Listener>()

  tell(message: Message): void {
    if (this.#listeners.size === 0) return
    const text = written(message)
    for (const listener of this.#listeners) listener.send(text)
  }

  /** @param first what a page is told at once */
  stream(first: Iterable<Message>, signal: AbortSignal): ReadableStream<Uint8Array> {
    const encoder = new TextEncoder()
    let stop = () => {}
    return new ReadableStream<Uint8Array>(
      {
        start: (controller) => {
          const listener: Listener = {
            send: (text) => {
              const bytes = encoder.encode(text)
              if ((controller.desiredSize ?? 0) < bytes.length - MAX_WAITING_BYTES) stop()
              else controller.enqueue(bytes)
            },
            end: () => stop(),
          }
          const beat = setInterval(() => listener.send(':\n\n'), HEARTBEAT_MS)
          stop = () => {
            stop = () => {}
            clearInterval(beat)
            this.#listeners.delete(listener)
            signal.removeEventListener('abort', listener.end)
            try {
              controller.close()
            } catch {
              // The reader has ended it already.
            }
          }
          signal.addEventListener('abort', listener.end)
          this.#listeners.add(listener)
          for (const message of first) listener.send(written(message))
          if (signal.aborted) stop()
        },
        cancel: () => stop(),
      },
      { highWaterMark: 0, size: (bytes) => bytes?.length ?? 0 },
    )
  }

  close(): void {
    for (const listener of [...this.#listeners]) listener.end()
  }
}

/** JSON has no line ends outside of strings, and escapes those in them. */
function written(message: Message): string {
  return `data: ${JSON.stringify(message)}\n\n`
}
