// Patches of several results that lie in one sequence, told as one: what its files are, and who lends to each.
import type { Rect } from '../../raster/rect.js'
import type { Patch, PatchFrame } from './patch.js'

/**
 * @param patches the lowest first, of one plate and written alike
 * @param window  of all of them
 * @param files   names by target frame
 */
export function jointPatch(
  patches: readonly Patch[],
  { x, y, w, h }: Rect,
  files: ReadonlyMap<number, string>,
): Patch {
  const [first] = patches as readonly [Patch, ...Patch[]]
  const worst = patches.map((p) => p.candidate.verdict).reduce((a, b) => (rank(b) > rank(a) ? b : a))
  const faulty = patches.filter((p) => p.candidate.verdict !== 'holds up')
  const { check: _, ...alike } = first
  return {
    ...alike,
    candidate: {
      ...first.candidate,
      id: patches.map((p) => p.candidate.id).join(' and '),
      timeOffset: null,
      verdict: worst,
      why: faulty.map((p) => `${p.candidate.id}: ${p.candidate.why}`).join('; '),
    },
    target: {
      ...first.target,
      first: Math.min(...patches.map((p) => p.target.first)),
      last: Math.max(...patches.map((p) => p.target.last)),
    },
    region: { ...first.region, mask: null, box: unitedBox(patches), window: [x, y, w, h] },
    donors: patches.flatMap((p) => p.donors),
    black: [],
    skipped: [],
    warnings: [],
    frames: [...files].map(([target, file]) => ({ target, file, lent: lentTo(target, patches) })),
  }
}

function rank(verdict: Patch['candidate']['verdict']): number {
  return ['holds up', 'needs work', 'will not hold'].indexOf(verdict)
}

/** The shares of all, of their joint donors. */
function lentTo(target: number, patches: readonly Patch[]): PatchFrame['lent'] {
  let before = 0
  return patches.flatMap(({ donors, frames }) => {
    const lent = frames.find((f) => f.target === target)?.lent ?? []
    const moved = lent.map((share) => ({ ...share, plate: share.plate + before }))
    before += donors.length
    return moved
  })
}

function unitedBox(patches: readonly Patch[]): Patch['region']['box'] {
  const boxes = patches.map((p) => p.region.box)
  const left = Math.min(...boxes.map(([x]) => x))
  const top = Math.min(...boxes.map(([, y]) => y))
  const right = Math.max(...boxes.map(([x, , w]) => x + w))
  const bottom = Math.max(...boxes.map(([, y, , h]) => y + h))
  return [left, top, right - left, bottom - top]
}
