// Memory that goes back as soon as it is used, instead of when the engine next looks for what nobody has any longer: by then tens of
// megabytes lie about, and the next picture is written to pages that were never touched.
import { MessageChannel, type MessagePort } from 'node:worker_threads'

/** Less than this is not worth a call, and may share its memory with others, bytes. */
const MIN_BYTES = 1 << 16

let nobody: MessagePort | undefined

/**
 * Gives back the memory of bytes that nobody needs any longer, at once but for the first, which goes some turns
 * later; they are gone, and whatever else lies in the same memory.
 *
 * HTML Standard, "Message ports": what is posted to a port whose other end is closed is handed over all the same, and dropped.
 *
 * @param bytes all of its memory but a few, which is not shared with other threads
 */
export function letGo({ buffer, byteLength }: Uint8Array): void {
  if (byteLength < MIN_BYTES || buffer instanceof SharedArrayBuffer) return
  if (nobody === undefined) {
    const { port1, port2 } = new MessageChannel()
    port1.close()
    nobody = port2
  }
  nobody.postMessage(null, [buffer])
}
