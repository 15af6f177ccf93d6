// One thread of the desk's pictures.
import { move } from 'piscina'
import { answerTo, type PictureTask } from './tasks.js'

export default async function picture(task: PictureTask): Promise<unknown> {
  const answer = await answerTo(task)
  const bytes = answer instanceof Uint8Array ? answer : null
  // A small buffer may be a part of one that others share, which can't be handed over.
  const own = bytes?.buffer instanceof ArrayBuffer && bytes.byteLength === bytes.buffer.byteLength
  return own ? move(bytes) : answer
}
