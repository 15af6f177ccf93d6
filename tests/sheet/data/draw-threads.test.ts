// Laws: frames drawn on several threads are those that one thread draws, bit for bit, and what fails or calls off is heard
// alike. A plate planted in the test.
import { mkdtempSync, rmSync } from 'node:fs'
import { readFile, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { basename, join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { OffcutError } from '../../../src/errors.js'
import type { RepairJob } from '../../../src/repair/repair.js'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Result } from '../../../src/search/result.js'
import type { Carried } from '../../../src/sheet/data/carry.js'
import type { JobPictures, PictureSource } from '../../../src/sheet/data/pictures.js'
import { CODINGS } from '../../../src/sheet/html/encode.js'
import { type Planted, plantPlate } from '../../synthetic.js'
import { transpile } from '../../transpile.mjs'

/** A source that knows of whole pictures alone. */
function wholly(source: JobPictures): PictureSource {
  return {
    pictures: (candidate, match) => source.pictures(candidate, match),
    donor: (candidate, match) => source.donor(candidate, match),
    meter: () => source.meter(),
  }
}

/** Threads start from JavaScript: from the sources without their types. */
const out = join(process.env.OFFCUT_TRANSPILED!, 'draw')
const built = <T>(path: string): Promise<T> => import(pathToFileURL(join(out, 'src', path)).href)
const PATIENCE_MS = 90_000

describe('frames drawn on several threads', () => {
  let folder: string
  let plate: Planted
  let result: Result
  beforeAll(async () => {
    await transpile(out)
    folder = mkdtempSync(join(tmpdir(), 'offcut-draw-threads-'))
    plate = await plantPlate(join(folder, 'plate'), {
      frames: 28,
      sway: (i) => [1.9 * Math.sin(i * 0.9), 1.3 * Math.cos(i * 1.7)],
      stops: (i) => 0.1 * Math.sin(i / 4),
      occluders: (i) => [{ x: 7 * i - 24, y: 34, w: 22, h: 44, light: 0.03 }],
    })
    const box = { x: 60, y: 30, w: 30, h: 50 }
    result = await findDonors({ target: join(folder, 'plate'), frames: '1011-1020', box, reach: 8, keep: 5 })
  }, PATIENCE_MS)
  afterAll(() => rmSync(folder, { recursive: true }))

  interface Asked {
    readonly threads?: number
    readonly of?: Result
    readonly signal?: AbortSignal
    readonly onDrawn?: (done: number) => void
    /** Ask for all that is made of a picture, whoever looks at it. */
    readonly isWhole?: boolean
    /** Hand over the pictures that rows show. */
    readonly areKept?: boolean
  }

  /** @param threads absent: all on this one */
  async function carried({
    threads,
    of = result,
    signal,
    onDrawn,
    isWhole,
    areKept,
  }: Asked): Promise<Carried> {
    const repair = await built<typeof import('../../../src/repair/repair.js')>('repair/repair.js')
    const { JobPictures } =
      await built<typeof import('../../../src/sheet/data/pictures.js')>('sheet/data/pictures.js')
    const { carryFrames } =
      await built<typeof import('../../../src/sheet/data/carry.js')>('sheet/data/carry.js')
    const { drawRows } = await built<typeof import('../../../src/sheet/data/rows.js')>('sheet/data/rows.js')
    const { DrawThreads } = await built<typeof import('../../../src/sheet/data/draw-threads.js')>(
      'sheet/data/draw-threads.js',
    )
    const job: RepairJob = repair.onKeptLight(await repair.openRepair(of))
    const pictures = new JobPictures(job)
    const drawing = threads === undefined ? null : await DrawThreads.of(pictures, { threads, signal })
    expect(drawing === null).toBe(threads === undefined)
    const plan = { coding: CODINGS[0], ways: of.candidates.length, step: 1 }
    const exposureStops = 0.5
    try {
      const { toDisplay } = job.viewing
      const viewing = { look: null, toDisplay, exposureOf: () => exposureStops }
      const rows = areKept ? await drawRows(of, pictures, 1, viewing) : undefined
      return await carryFrames(
        of.candidates,
        isWhole ? wholly(pictures) : pictures,
        plan,
        rows?.show ?? ((picture, workspace) => toDisplay(picture, exposureStops, 1, workspace)),
        ({ done }) => onDrawn?.(done),
        drawing?.spread(plan, exposureStops),
        rows?.kept,
      )
    } finally {
      await drawing?.close()
      job.close()
    }
  }

  test(
    'are those that one thread draws, and are told one by one',
    async () => {
      const one = await carried({})
      expect(one.lent.flat()).toHaveLength(50)
      expect(one.finish.filter((f) => f !== null)).toHaveLength(3)
      for (const threads of [2, 3]) {
        const told: number[] = []
        expect(await carried({ threads, onDrawn: (done) => void told.push(done) })).toEqual(one)
        expect(told).toEqual(Array.from({ length: 50 }, (_, i) => i + 1))
      }
    },
    PATIENCE_MS,
  )

  test(
    'are the same where no more is made of a picture than is looked at, or its row shows it',
    async () => {
      const whole = await carried({ isWhole: true })
      expect(await carried({})).toEqual(whole)
      expect(await carried({ areKept: true })).toEqual(whole)
    },
    PATIENCE_MS,
  )

  test(
    'lie on targets that are the same by themselves, with the same masks',
    async () => {
      const { onKeptLight, openRepair } =
        await built<typeof import('../../../src/repair/repair.js')>('repair/repair.js')
      const { JobPictures } =
        await built<typeof import('../../../src/sheet/data/pictures.js')>('sheet/data/pictures.js')
      const job = onKeptLight(await openRepair(result))
      const pictures = new JobPictures(job)
      const [candidate] = result.candidates
      const match = candidate.frames[3]
      const { rect, target, mask } = await pictures.pictures(candidate, match)
      const alone = await pictures.target(match)
      expect([alone.rect, alone.target.data, alone.mask]).toEqual([rect, target.data, mask])
      job.close()
    },
    PATIENCE_MS,
  )

  test(
    'of one frame alone, too',
    async () => {
      const { target, candidates } = result
      const [frame] = target.frames
      const of = {
        ...result,
        target: { ...target, last: frame, frames: [frame] },
        candidates: candidates.map((c) => ({ ...c, frames: c.frames.slice(0, 1) })),
      }
      expect(await carried({ threads: 2, of })).toEqual(await carried({ of }))
    },
    PATIENCE_MS,
  )

  test(
    'end with the reason when they are called off',
    async () => {
      const calledOff = new AbortController()
      const reason = new Error('called off')
      const onDrawn = (done: number) => {
        if (done === 3) calledOff.abort(reason)
      }
      await expect(carried({ threads: 2, signal: calledOff.signal, onDrawn })).rejects.toBe(reason)
    },
    PATIENCE_MS,
  )

  test(
    'end with the one sentence of a frame that can’t be read, wherever that is met',
    async () => {
      for (const frame of [1012, 1019]) {
        const path = plate.pathOf(frame)
        const whole = await readFile(path)
        await writeFile(path, 'no picture any more')
        const failure = (asked: Asked): Promise<OffcutError> =>
          carried(asked).then(
            () => expect.unreachable('a frame that is no picture was drawn'),
            (error) => error,
          )
        const [one, two] = [await failure({}), await failure({ threads: 2 })]
        expect(one.message).toContain(basename(path))
        expect([two.name, two.code, two.exitCode, two.message]).toEqual([
          one.name,
          one.code,
          one.exitCode,
          one.message,
        ])
        await writeFile(path, whole)
      }
    },
    PATIENCE_MS,
  )

  test('are not, where one thread is as fast', async () => {
    const repair = await built<typeof import('../../../src/repair/repair.js')>('repair/repair.js')
    const { JobPictures } =
      await built<typeof import('../../../src/sheet/data/pictures.js')>('sheet/data/pictures.js')
    const { DrawThreads } = await built<typeof import('../../../src/sheet/data/draw-threads.js')>(
      'sheet/data/draw-threads.js',
    )
    const job = await repair.openRepair(result)
    // 50 pictures, however many cores there are.
    expect(await DrawThreads.of(new JobPictures(job))).toBeNull()
    // A movie is decoded in one stream.
    const movie = { ...job, target: { ...job.target, streamed: true } }
    expect(await DrawThreads.of(new JobPictures(movie), { threads: 2 })).toBeNull()
    job.close()
  })
})
