// A preview as a picture file.
import type { Rect } from '../../raster/rect.js'
import { type PreviewAsked, previewOf } from './preview.js'
import { encodePicture, type Shown, viewingFor } from './shown.js'

export interface PreviewTask extends PreviewAsked {
  readonly shown: Shown
  /** Without loss where codes are to be compared. */
  readonly format: 'jpg' | 'png'
}

export interface DrawnPreview {
  /** Of the plate. */
  readonly rect: Rect
  readonly bytes: Uint8Array
}

/** @throws as previewOf and viewingFor */
export async function drawPreview({ shown, format, ...asked }: PreviewTask): Promise<DrawnPreview> {
  const { rect, picture, job } = await previewOf(asked)
  const viewing = await viewingFor(job.target, shown.look)
  return { rect, bytes: await encodePicture(viewing, picture, shown, format) }
}
