// Where the pixels of a frame come from, as string attributes of its EXR header. OpenEXR's own names are plain words, so
// that ours have a prefix; they stay below the 31 bytes that every reader takes (openexr.com, "OpenEXR File Layout").
import type { Candidate, FrameMatch } from '../../search/result.js'
import { version } from '../../version.js'
import type { RepairJob } from '../repair.js'
import { sharesOf } from './shares.js'

/** Attribute names and their texts. @param match absent where the mask is black, and nothing is lent */
export function provenanceOf(
  { target, donors }: Pick<RepairJob, 'target' | 'donors'>,
  candidate: Candidate,
  match: FrameMatch | undefined,
): Readonly<Record<string, string>> {
  const common = {
    'offcut:version': version(),
    'offcut:candidate': candidate.id,
    'offcut:plate': target.name,
  }
  if (match === undefined) return common
  const shares = sharesOf(match)
  const each = (text: (share: (typeof shares)[number]) => string) => shares.map(text).join(', ')
  return {
    ...common,
    'offcut:donorPlate': [...new Set(shares.map(({ plate }) => donors[plate].name))].join(', '),
    'offcut:donor': each(({ frame }) => String(frame)),
    'offcut:timeOffset': each(({ timeOffset }) => `${timeOffset > 0 ? '+' : ''}${timeOffset}`),
  }
}
