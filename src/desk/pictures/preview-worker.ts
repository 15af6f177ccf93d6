// The thread of the desk's previews.
import { answering } from '../across-threads.js'
import { drawPreview, type PreviewTask } from './draw-preview.js'

export default function preview(task: PreviewTask): Promise<unknown> {
  return answering(() => drawPreview(task))
}
