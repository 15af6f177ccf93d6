// A field of light in words: how much the light differs from one place of the region to another.
import { fieldAt } from '../../match/light-field.js'
import type { Candidate, LightFieldEntry, Result } from '../../search/result.js'
import { plain } from './measures.js'

/** Places across and down at which a field is looked at: it has no extreme between them that shows. */
const PLACES = 5

/** "up to 0.08 stops, a plane"; null where one gain is all. */
export function fieldWords(
  { frames }: Pick<Candidate, 'frames'>,
  { box }: Pick<Result['region'], 'box'>,
): string | null {
  const fields = frames.flatMap((match) =>
    [match, ...(match.stack ?? match.pieces ?? [])].flatMap((share) => share.field ?? []),
  )
  if (fields.length === 0) return null
  const most = Math.max(...fields.map((field) => spanOf(field, box)))
  const terms = Math.max(...fields.map(({ stops }) => stops.length))
  return `up to ${plain(most, 2)} stops, ${terms > 2 ? 'a curved surface' : 'a plane'}`
}

/** From the darkest to the brightest place, stops of green. */
function spanOf({ x, y, span, stops }: LightFieldEntry, [left, top, w, h]: Result['region']['box']): number {
  const terms = Float64Array.of(0, ...stops.map((term) => term[1]))
  const along = (from: number, length: number) =>
    Array.from({ length: PLACES }, (_, k) => from + ((length - 1) * k) / (PLACES - 1))
  const values = along(left, w).flatMap((px) =>
    along(top, h).map((py) => fieldAt(terms, (px - x) / span, (py - y) / span)),
  )
  return Math.max(...values) - Math.min(...values)
}
