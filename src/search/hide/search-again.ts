// A candidate that a result does not hold, a folded alternative or any frame: the search is run again for it as it was asked
// for then, so that it gets the numbers, offsets and gains that it would have had as a row.
import { OffcutError } from '../../errors.js'
import type { OnProgress } from '../../progress.js'
import { openShot, type ShotRequest } from '../../shot/open-shot.js'
import { resultOf } from '../events.js'
import type { Candidate, Result } from '../result.js'
import { askedOf } from './asked.js'
import { hide } from './find.js'

/**
 * Measures a hold, run or mirror for a result of the aim hide. Reads all of the footage again.
 *
 * @param id as on a sheet: `hold-1219`
 * @throws as openShot and hide; MISUSE and FRAMES_OUTSIDE for what can't be; NOT_LAID where it can't be laid on the target
 */
export async function searchAgain(
  result: Result,
  id: string,
  { onProgress, signal }: { readonly onProgress?: OnProgress; readonly signal?: AbortSignal } = {},
): Promise<Candidate> {
  const shot = await openShot(requestOf(result))
  const [{ id: name }] = askedOf([id], shot, 'pick')
  const again = await resultOf(hide(shot, { keep: 1, tries: [name], signal }), onProgress)
  const found = again.candidates.find((c) => c.id === name)
  if (found !== undefined) return found
  const why = again.warnings.find((w) => w.startsWith(`${name} `)) ?? `${name} can't be measured`
  throw new OffcutError('NOT_LAID', `${why}; pick another`, 1)
}

/** What was asked of the search that made a result. */
export function requestOf({ target, region, reach, anywhere, donors }: Result): ShotRequest {
  const [x, y, w, h] = region.drawn ?? region.box
  const lent = donors.flatMap(({ asked }) => asked ?? [])
  // Where plates have another encoding each, it was found, and is found again.
  const one = donors.every(({ encoding }) => encoding === target.encoding)
  return {
    target: target.plate,
    frames: [...target.frames, ...(region.empty ?? [])],
    ...(region.mask === null ? { box: { x, y, w, h } } : { mask: region.mask }),
    maskFit: region.maskFit,
    grow: region.grow,
    maskAt: region.at,
    avoid: region.avoid,
    donors: donors.slice(1).flatMap(({ plate, place }) => (place ? [] : [plate])),
    ...(donors.some(({ asked }) => asked !== undefined) ? { donorFrames: lent } : {}),
    reach: anywhere ? 'anywhere' : reach,
    surround: region.surround,
    encoding: one ? target.encoding : 'auto',
    layer: target.layer,
  }
}
