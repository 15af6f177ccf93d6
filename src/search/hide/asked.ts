// What the artist names: a hold, a run or a mirror that is measured beside what the search proposes, whoever may lend.
import { misuse, OffcutError, option } from '../../errors.js'
import { framesInWords, printFrames } from '../../footage/frames.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Shot } from '../../shot/open-shot.js'
import type { CandidateKind } from '../kinds.js'
import type { Draft } from '../measure.js'
import { offsetBetween, type Registered } from '../register.js'
import type { Candidate } from '../result.js'
import { byRank } from '../score.js'
import { draftOf } from './drafts.js'
import type { Matrix } from './matrix.js'

/** A candidate by its name. */
export interface Asked {
  readonly id: string
  readonly kind: CandidateKind
  readonly plate: number
  readonly timeOffset: number | null
  /** The donor of a target frame. */
  readonly donorOf: (target: number) => FrameKey
}

const NAME = /^(?:(hold)-(-?\d+)|(run)([-+]\d+)|(mirror)-(-?\d+))(?:\.p(\d+))?$/

/** Whether an id names its frames by itself, so that it can be asked for: a relay's or stack's does not. */
export function isName(id: string): boolean {
  return NAME.test(id)
}

/**
 * The candidates that are named, each once.
 *
 * @param name the option that names them
 * @throws MISUSE for what is no such name; FRAMES_OUTSIDE where a frame it needs is not there, or is the target itself
 */
export function askedOf(
  ids: readonly string[],
  { plates, frames }: Pick<Shot, 'plates' | 'frames'>,
  name: 'tries' | 'pick' = 'tries',
): Asked[] {
  const flag = option(name)
  const asked = new Map<string, Asked>()
  for (const id of ids) {
    const one = named(id, plates.length, flag)
    const source = plates[one.plate]
    const there = new Set(source.frames)
    const needed = [...new Set(frames.map((f) => one.donorOf(f).frame))].sort((a, b) => a - b)
    const missing = needed.filter((f) => !there.has(f))
    if (missing.length > 0) {
      const what = `${framesInWords(missing)} of ${source.name}`
      throw outside(flag, id, `needs ${what}, which has ${printFrames(source.frames)}`)
    }
    const itself = one.plate === 0 ? frames.find((f) => one.donorOf(f).frame === f) : undefined
    if (itself !== undefined) throw outside(flag, id, `would lend frame ${itself} to itself`)
    asked.set(one.id, one)
  }
  return [...asked.values()]
}

function outside(flag: string, id: string, problem: string): OffcutError {
  return new OffcutError('FRAMES_OUTSIDE', `${flag} ${id} ${problem}: name another`, 2)
}

function named(id: string, plates: number, flag: string): Asked {
  const match = NAME.exec(id)
  const plate = Number(match?.[7] ?? 1) - 1
  if (match === null || plate < 0 || plate >= plates) {
    const of = plates > 1 ? `, of the other plates with .p2 to .p${plates} behind it` : ''
    throw misuse(flag, `a hold, run or mirror such as hold-1215, run+46 or mirror-2251${of}`, id)
  }
  const kind = (match[1] ?? match[3] ?? match[5]) as 'hold' | 'run' | 'mirror'
  const constant = Number(match[2] ?? match[4] ?? match[6])
  const sign = kind === 'run' ? (constant < 0 ? '' : '+') : '-'
  const frameOf = {
    hold: () => constant,
    run: (target: number) => target + constant,
    mirror: (target: number) => constant - target,
  }[kind]
  return {
    id: `${kind}${sign}${constant}${plate === 0 ? '' : `.p${plate + 1}`}`,
    kind,
    plate,
    timeOffset: kind === 'run' ? constant : null,
    donorOf: (target) => ({ plate, frame: frameOf(target) }),
  }
}

/** The draft over the matrix's columns, or the sentence why it can't be measured on this footage. */
export function askedDraft(asked: Asked, matrix: Matrix, frames: readonly Registered[]): Draft | string {
  const columnOf = new Map(matrix.donors.map((d, i) => [keyOf(d), i]))
  const columns: number[] = []
  for (const [t, target] of matrix.targets.entries()) {
    const donor = asked.donorOf(target.frame)
    const column = columnOf.get(keyOf(donor))
    const cannot = (why: string) => `${asked.id} was asked for and can't be measured: ${why}`
    if (column === undefined) return cannot(`frame ${donor.frame} can't be read`)
    if (!Number.isFinite(matrix.cost(t, column)))
      return cannot(apart(target, frames.find((f) => keyOf(f) === keyOf(donor))!, matrix))
    columns.push(column)
  }
  return draftOf(matrix, asked.kind, asked.id, asked.plate, asked.timeOffset, columns)
}

function apart(target: Registered, donor: Registered, { window }: Matrix): string {
  if (!donor.held) return `nothing on frame ${donor.frame} tells where it lies against ${target.frame}`
  const { dx, dy } = offsetBetween(target, donor, window)
  return `frame ${donor.frame} lies ${dx.toFixed(1)}, ${dy.toFixed(1)} px from ${target.frame}, beyond the reach, or nothing of both is seen`
}

/**
 * The rows of a table with what was asked for among them, by its score: marked, never folded under another row. No other
 * row changes.
 *
 * @param kept  best first
 * @param asked candidates that were asked for
 */
export function withAsked(kept: readonly Candidate[], asked: readonly Candidate[]): Candidate[] {
  const ids = new Set(asked.map((c) => c.id))
  const rows = kept.map((row) => ({
    ...row,
    ...(ids.has(row.id) ? { asked: true as const } : {}),
    ...(row.alternatives ? { alternatives: row.alternatives.filter(({ id }) => !ids.has(id)) } : {}),
  }))
  const there = new Set(kept.map((c) => c.id))
  const beside = asked
    .filter((c) => !there.has(c.id))
    .map((c) => ({ ...c, asked: true as const, alternatives: [] }))
  return [...rows, ...beside].sort(byRank)
}
