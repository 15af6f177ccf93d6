// Near-equal candidates are one row: neighbouring frames of one quiet stretch are one choice, not twenty.

import { keyOf } from '../../shot/frame-key.js'
import { KINDS } from '../kinds.js'
import type { Candidate } from '../result.js'
import type { Matrix } from './matrix.js'

/** Candidates of one kind whose constants lie this close are one choice, if nothing disturbs the frames between. */
const ALIKE_FRAMES = 12
/** Alternatives listed under a row. */
const MAX_ALTERNATIVES = 8
/** Donors between two alike candidates may cost this much more than the better one before they count as disturbed. */
const DISTURBED = 4

/** @param candidates best first; @returns best first, each with its `alternatives` */
export function groupSimilar(candidates: readonly Candidate[], matrix: Matrix): Candidate[] {
  const rows: (Candidate & { alternatives: { id: string; score: number }[] })[] = []
  const column = new Map(matrix.donors.map((d, i) => [keyOf(d), i]))
  for (const candidate of candidates) {
    const row = rows.find((r) => alike(r, candidate, matrix, column))
    if (!row) rows.push({ ...candidate, alternatives: [] })
    else if (row.alternatives.length < MAX_ALTERNATIVES)
      row.alternatives.push({ id: candidate.id, score: candidate.score })
  }
  return rows
}

function alike(a: Candidate, b: Candidate, matrix: Matrix, column: ReadonlyMap<string, number>): boolean {
  if (a.kind !== b.kind || a.donor !== b.donor || KINDS[a.kind].singular) return false
  const from = Math.min(a.frames[0].donor, b.frames[0].donor)
  const to = Math.max(a.frames[0].donor, b.frames[0].donor)
  if (to - from > ALIKE_FRAMES) return false
  const columnOf = (frame: number) => column.get(keyOf({ plate: a.donor, frame }))
  const limit = DISTURBED * (1 + matrix.cost(0, columnOf(a.frames[0].donor)!))
  for (let frame = from + 1; frame < to; frame++) {
    const between = columnOf(frame)
    if (between !== undefined && matrix.cost(0, between) > limit) return false
  }
  return true
}
