// What a schema can't say of a result: that its parts fit each other. A result edited by hand may not.
import { printFrames } from '../footage/frames.js'
import { hasInverse, type Transform } from '../raster/transform.js'
import { pieceMapMisfit } from './piece-map.js'
import type { Candidate, FrameMatch, Result } from './result.js'

/** The first entry that does not fit the others, in words; null where all do. */
export function misfit(result: Result): string | null {
  const { target, region, donors, candidates } = result
  const [x, y, w, h] = region.box
  if (x < 0 || y < 0 || x + w > target.width || y + h > target.height)
    return `region.box must lie inside the plate's ${target.width} x ${target.height}, and is ${x},${y},${w},${h}`
  if (donors.length === 0) return 'donors must be at least 1 entries, and is []'
  if (result.aim === 'borrow' && result.borrow === undefined)
    return 'borrow is missing; with the aim borrow it must be an object'
  const ids = new Set<string>()
  for (const [i, candidate] of candidates.entries()) {
    const at = `candidates[${i}]`
    if (ids.has(candidate.id))
      return `${at}.id must be used once, and is that of an earlier one, ${candidate.id}`
    ids.add(candidate.id)
    if (result.aim === 'borrow' && candidate.moment === undefined)
      return `${at}.moment is missing; with the aim borrow it must be an object`
    const fault = misfitOf(candidate, at, result)
    if (fault !== null) return fault
  }
  const moving = misfitOfCamera(result)
  if (moving !== null) return moving
  const { matrix, cuts = [] } = result
  for (const [i, { frames }] of cuts.entries()) {
    const k = frames.findIndex(({ frame }) => !target.frames.includes(frame))
    if (k >= 0)
      return `cuts[${i}].frames[${k}].frame must be one of the target's frames ${printFrames(target.frames)}, and is ${frames[k].frame}`
  }
  if (matrix === undefined) return null
  if (matrix.quality.length !== matrix.targets.length)
    return `matrix.quality must be a row for each of ${matrix.targets.length} targets, and is ${matrix.quality.length}`
  const row = matrix.quality.findIndex((r) => r.length !== matrix.donors.length)
  if (row >= 0)
    return `matrix.quality[${row}] must be a value for each of ${matrix.donors.length} donors, and is ${matrix.quality[row].length}`
  const column = matrix.donors.findIndex((d) => d.plate >= donors.length)
  return column < 0 ? null : noDonor(`matrix.donors[${column}].plate`, matrix.donors[column].plate, result)
}

function misfitOf(candidate: Candidate, at: string, result: Result): string | null {
  const { donors, target } = result
  if (candidate.donor >= donors.length) return noDonor(`${at}.donor`, candidate.donor, result)
  const seen = new Set<number>()
  for (const [k, match] of candidate.frames.entries()) {
    const place = `${at}.frames[${k}]`
    if (!target.frames.includes(match.target))
      return `${place}.target must be one of the target's frames ${printFrames(target.frames)}, and is ${match.target}`
    if (seen.has(match.target))
      return `${place}.target must be used once, and ${match.target} is there before`
    seen.add(match.target)
    if (match.plate >= donors.length) return noDonor(`${place}.plate`, match.plate, result)
    const shares = (['stack', 'pieces'] as const).flatMap((list) =>
      (match[list] ?? []).map((share, n) => ({ name: `.${list}[${n}]`, share })),
    )
    const foreign = shares.find(({ share }) => share.plate >= donors.length)
    if (foreign) return noDonor(`${place}${foreign.name}.plate`, foreign.share.plate, result)
    const pieces = misfitOfPieces(candidate, match, place)
    if (pieces !== null) return pieces
    for (const [name, { gain, transform }] of [
      ['', match] as const,
      ...shares.map(({ name, share }) => [name, share] as const),
    ]) {
      if (gain.some((g) => g < 0))
        return `${place}${name}.gain must be at least 0, and is [${gain.join(', ')}]`
      if (transform && !hasInverse(transform)) return noInverse(`${place}${name}.transform`, transform)
    }
    for (const name of ['map', 'quiet'] as const) {
      const transform = match[name]?.transform
      if (transform && !hasInverse(transform)) return noInverse(`${place}.${name}.transform`, transform)
    }
  }
  const map = candidate.map && pieceMapMisfit(candidate.map, candidate.frames[0].pieces?.length ?? 0)
  if (map) return `${at}.map.${map}`
  for (const [n, share] of (candidate.moment?.quietState ?? []).entries()) {
    const name = `${at}.moment.quietState[${n}]`
    if (share.plate >= donors.length) return noDonor(`${name}.plate`, share.plate, result)
    if (share.transform && !hasInverse(share.transform))
      return noInverse(`${name}.transform`, share.transform)
  }
  const foreign = candidate.moment?.donor ?? 0
  return foreign < donors.length ? null : noDonor(`${at}.moment.donor`, foreign, result)
}

/** A mask that rides along needs the pose of the frame that it is carried from. */
function misfitOfCamera(result: Result): string | null {
  const { camera, region, donors } = result
  if (camera === undefined) return null
  const held = new Set<number>()
  const seen = new Set<string>()
  for (const [i, { plate, frame, pose }] of camera.frames.entries()) {
    const place = `camera.frames[${i}]`
    if (plate >= donors.length) return noDonor(`${place}.plate`, plate, result)
    if (seen.has(`${plate}/${frame}`))
      return `${place}.frame must be used once a plate, and ${frame} is there before`
    seen.add(`${plate}/${frame}`)
    if (pose === null) continue
    if (!hasInverse(pose)) return noInverse(`${place}.pose`, pose)
    if (plate === 0) held.add(frame)
  }
  if (region.at === undefined) return null
  return held.has(region.at)
    ? null
    : `camera.frames must hold the pose of frame ${region.at}, as the mask is carried from there, and does not`
}

function noInverse(place: string, transform: Transform): string {
  return `${place} must have an inverse, and is [${transform.join(', ')}]`
}

/** A mosaic has a map, and on every frame as many pieces and where the map lies; nothing else has any of these. */
function misfitOfPieces({ kind, map, frames }: Candidate, match: FrameMatch, place: string): string | null {
  const isMosaic = kind === 'mosaic'
  const has = { map: map !== undefined, pieces: match.pieces !== undefined, place: match.map !== undefined }
  if (has.map !== isMosaic || has.pieces !== isMosaic || has.place !== isMosaic)
    return isMosaic
      ? `${place} must have pieces and a map's offset, and its candidate a map, as a mosaic does`
      : `${place} must have no pieces and no map, as its candidate is a ${kind}`
  const [mine, first] = [match.pieces?.length, frames[0].pieces?.length]
  return mine === first ? null : `${place}.pieces must be ${first}, as on the first frame, and are ${mine}`
}

function noDonor(place: string, index: number, { donors }: Result): string {
  return `${place} must be an index into the ${donors.length} donors, 0 to ${donors.length - 1}, and is ${index}`
}
