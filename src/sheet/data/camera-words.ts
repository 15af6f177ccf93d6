// How the camera moved, in sentences.
import { printFrames } from '../../footage/frames.js'
import type { Camera, Result } from '../../search/result.js'
import { seenOn } from './camera-path.js'

const MODEL: Readonly<Record<Camera['model'], string>> = {
  shift: 'the camera moves: shift',
  similarity: 'the camera moves, rolls or zooms: similarity',
  homography: 'the camera turns: homography',
}

/** Nothing where it stands or sways within the reach. */
export function cameraWords(result: Result): string[] {
  const { camera, donors } = result
  if (camera === undefined) return []
  const several = new Set(camera.frames.map(({ plate }) => plate)).size > 1
  const said = [`${MODEL[camera.model]}, on the pixels of frame ${camera.reference}`]
  for (const plate of new Set(camera.frames.map((f) => f.plate))) {
    const all = camera.frames.filter((f) => f.plate === plate)
    const lost = all.filter(({ pose }) => pose === null).map(({ frame }) => frame)
    const of = several ? ` of ${plate === 0 ? 'the plate' : donors[plate].plate}` : ''
    said.push(
      lost.length === 0
        ? `followed on all ${all.length} frames${of}${sharpness(all)}`
        : lost.length === all.length
          ? `followed on none of the ${all.length} frames${of}`
          : `not followed on ${printFrames(lost)}${of}; on the other ${all.length - lost.length} frames${sharpness(all)}`,
    )
    const seeing = all.filter((f) => seenOn(result, f) === 'all').map(({ frame }) => frame)
    if (seeing.length > 0) said.push(`all of the region is in the frame on ${printFrames(seeing)}${of}`)
    else if (lost.length < all.length) said.push(`no frame${of} has all of the region in it`)
  }
  return said
}

/** ", to 0.03 px": half of the frames lie better. */
function sharpness(frames: Camera['frames']): string {
  const known = frames.flatMap(({ sigma }) => (sigma === null ? [] : [sigma])).sort((a, b) => a - b)
  return known.length === 0 ? '' : `, to ${known[known.length >> 1].toFixed(2)} px`
}
