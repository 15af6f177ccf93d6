// How soon a search has something to show: its rankings on the way against the one at the end, by planted truth; and what
// they cost, against the same search without them.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openRepair } from '../../src/repair/repair.js'
import type { Ranking } from '../../src/search/events.js'
import { hide } from '../../src/search/hide/find.js'
import type { Candidate, Result } from '../../src/search/result.js'
import { openShot } from '../../src/shot/open-shot.js'
import { asked, judge, picturesOf } from './evaluate.js'
import type { Prepared } from './prepare.js'

/** One ranking on the way. */
export interface Early {
  /** Share of the frames that were read. */
  readonly read: number
  readonly id: string | null
  /** dB inside of its first candidate, over the target frames that it was ranked on; and of the final one over the same. */
  readonly db: number | null
  readonly finalDb: number
  /** Where its own interval says that its first lies, dB, and of display luminance where it really does. */
  readonly interval: readonly [low: number, high: number] | null
  readonly luminanceDb: number | null
}

export interface AnytimeCase {
  readonly id: string
  readonly final: string
  readonly early: readonly Early[]
  /** Processor seconds of whole searches with an empty cache, in turn: with rankings and without. */
  readonly seconds: readonly { readonly anytime: number; readonly plain: number }[]
}

/** @param rounds searches of either kind that are timed; 0: one is listened to, and none timed */
export async function anytimeCase(prepared: Prepared, rounds: number): Promise<AnytimeCase> {
  const seconds: { anytime: number; plain: number }[] = []
  let heard = rounds === 0 ? await timed(prepared, true) : undefined
  for (let round = 0; round < rounds; round++) {
    const plain = await timed(prepared, false)
    const anytime = await timed(prepared, true)
    heard = anytime
    seconds.push({ anytime: anytime.seconds, plain: plain.seconds })
  }
  const { result, rankings } = heard!
  const { folder, planted } = prepared
  const job = await openRepair(result)
  const pictures = await picturesOf(folder, planted)
  const worth = (candidate: Candidate) => judge(planted, job, candidate, pictures)
  const [final] = result.candidates
  if (final === undefined) throw new RangeError(`${planted.id}: nothing was found`)
  const early: Early[] = []
  for (const { read, total, candidates } of rankings) {
    const first = candidates[0]
    const targets = new Set(first?.frames.map((f) => f.target))
    const same = {
      ...final,
      frames: final.frames.filter((f) => first === undefined || targets.has(f.target)),
    }
    const found = first === undefined ? null : await worth(first)
    early.push({
      read: read / total,
      id: first?.id ?? null,
      db: found?.window ?? null,
      finalDb: (await worth(same)).window,
      interval: first?.interval ?? null,
      luminanceDb: found?.windowLuminance ?? null,
    })
  }
  job.close()
  return { id: planted.id, final: final.id, early, seconds }
}

/** A search with a cache of its own. */
async function timed(prepared: Prepared, anytime: boolean) {
  const cache = await mkdtemp(join(tmpdir(), 'offcut-anytime-'))
  const before = process.env.XDG_CACHE_HOME
  process.env.XDG_CACHE_HOME = cache
  try {
    const started = process.cpuUsage()
    const { target, mask, frames, maskAt, donors } = asked(prepared)
    const shot = await openShot({ target, mask, frames, maskAt, donors })
    const rankings: Ranking[] = []
    let result: Result | undefined
    for await (const event of hide(shot, { anytime })) {
      if (event.kind === 'ranking') rankings.push(event)
      if (event.kind === 'done') result = event.result
    }
    const { user, system } = process.cpuUsage(started)
    return { result: result!, rankings, seconds: (user + system) / 1e6 }
  } finally {
    if (before === undefined) delete process.env.XDG_CACHE_HOME
    else process.env.XDG_CACHE_HOME = before
    await rm(cache, { recursive: true, force: true })
  }
}
