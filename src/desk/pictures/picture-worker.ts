// One thread of the desk's pictures.
import { answering } from '../across-threads.js'
import { answerTo, type PictureTask } from './tasks.js'

export default function picture(task: PictureTask): Promise<unknown> {
  return answering(() => answerTo(task))
}
