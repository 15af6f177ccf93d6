// Repairs of movies, which have no file per frame and no way to a single frame but through those before it. Made by
// ffmpeg from planted plates; without ffmpeg skipped.
import { execFileSync, spawnSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { delimiter, join } from 'node:path'
import sharp from 'sharp'
import { FloatType } from 'three'
import { EXRLoader } from 'three/examples/jsm/loaders/EXRLoader.js'
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest'
import { exrReader } from '../../src/footage/exr/reader.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { withFootage } from '../../src/repair/footage.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { writeLighting } from '../../src/repair/lighting/write.js'
import { onKeptLight, openRepair, type RepairJob } from '../../src/repair/repair.js'
import { writeCandidate } from '../../src/repair/write.js'
import { findBorrow } from '../../src/search/borrow/borrow.js'
import { findDonors } from '../../src/search/hide/find.js'
import type { Candidate } from '../../src/search/result.js'
import { patch, plantShade } from '../search/shaded.js'
import { plantPlate } from '../synthetic.js'
import { distance, resultFor } from './job.js'

// every test starts several programs, which a busy machine may take seconds over
vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 })

const hasFfmpeg =
  spawnSync('ffmpeg', ['-version']).status === 0 && spawnSync('ffprobe', ['-version']).status === 0

const [WIDTH, HEIGHT] = [160, 120]
const FEATHER = 4
const LENT = [
  { target: 2, donor: 6, dx: 0.3, dy: -0.6 },
  { target: 3, donor: 5 },
  { target: 4, donor: 8 },
]

function filmed(plate: string, path: string, ...output: string[]): string {
  const frames = ['-framerate', '24', '-start_number', '1001', '-i', join(plate, 'quay.%04d.png')]
  execFileSync('ffmpeg', ['-v', 'error', ...frames, ...output, path])
  return path
}

async function jobOf(movie: string) {
  const { result, candidate } = resultFor(movie, LENT, { frames: 8, first: 1 })
  return { job: await openRepair(result), candidate }
}

describe.runIf(hasFfmpeg)('of a movie', () => {
  const folder = mkdtempSync(join(tmpdir(), 'offcut-repair-movie-'))
  afterAll(() => rmSync(folder, { recursive: true }))
  const path = process.env.PATH
  afterEach(() => {
    process.env.PATH = path
  })
  let plate: string
  let rgb: string
  let ycbcr: string
  beforeAll(async () => {
    plate = (await plantPlate(join(folder, 'plate'), { frames: 8 })).folder
    // a number that is no frame number
    rgb = filmed(
      plate,
      join(folder, 'shot_010.mov'),
      '-c:v',
      'png',
      '-pix_fmt',
      'rgb24',
      '-timecode',
      '01:00:00:23',
    )
    ycbcr = filmed(plate, join(folder, 'take 2.avi'), '-c:v', 'mpeg4', '-q:v', '2', '-pix_fmt', 'yuv420p')
  })
  let n = 0
  const fresh = (): string => {
    const out = join(folder, `out${n++}`)
    mkdirSync(out)
    return out
  }

  test('a patch is an EXR for each frame, named and counted by the movie', async () => {
    const out = fresh()
    const { job, candidate } = await jobOf(rgb)
    expect(await writeCandidate(job, candidate, out)).toEqual(
      [2, 3, 4].map((frame) => `shot_010_patch.000${frame}.exr`),
    )
    // frame 1 is at 01:00:00:23 and a second has 24
    expect(await exrReader.probe(join(out, 'shot_010_patch.0003.exr'))).toMatchObject({
      width: WIDTH,
      height: HEIGHT,
      framesPerSecond: 24,
      timeCode: '01:00:01:01',
      imageCounter: 3,
    })
    const made = await repairFrame(job, candidate, candidate.frames[1]!)
    const read = await exrReader.read(join(out, 'shot_010_patch.0003.exr'), made.rect)
    for (let i = 0; i < made.alpha.length; i++) {
      const premultiplied = made.alpha[i]! * made.patch.data[3 * i]!
      expect(Math.abs(read.data[3 * i]! - premultiplied)).toBeLessThanOrEqual(2 ** -11 * premultiplied)
    }
  })

  test.each([
    ['RGB', () => rgb],
    ['YCbCr', () => ycbcr],
  ])(
    'whole frames of %s are the movie’s own values outside the feathered mask, bit by bit',
    async (kind, movie) => {
      const out = fresh()
      const { job, candidate } = await jobOf(movie())
      const [name] = await writeCandidate(job, candidate, out, { whole: true, featherPx: FEATHER })
      expect(name).toMatch(/^(shot_010|take 2)_repaired\.0002\.exr$/)
      // read back by three's EXRLoader: rows from the bottom up, RGBA
      const bytes = new Uint8Array(readFileSync(join(out, name!)))
      const { data } = new EXRLoader().setDataType(FloatType).parse(bytes.buffer) as unknown as {
        data: Float32Array
      }
      const shown = await readRect(await openPlate(movie()), 2, { x: 0, y: 0, w: WIDTH, h: HEIGHT })
      // the stored codes by another decoder, ffmpeg's own: RGB has one for each of them
      const codes = execFileSync('ffmpeg', [
        ...['-v', 'error', '-i', movie(), '-vf', 'select=eq(n\\,1)', '-frames:v', '1'],
        ...['-f', 'rawvideo', '-pix_fmt', 'rgb24', '-'],
      ])
      let changed = 0
      for (let y = 0, i = 0; y < HEIGHT; y++) {
        for (let x = 0; x < WIDTH; x++, i++) {
          const from = 4 * ((HEIGHT - 1 - y) * WIDTH + x)
          for (let c = 0; c < 3; c++) {
            const value = data[from + c]!
            if (distance(x, y) <= FEATHER) {
              if (value !== shown.data[3 * i + c]) changed++
              continue
            }
            expect(value).toBe(shown.data[3 * i + c])
            // IEC 61966-2-1, backwards
            const code = value <= 0.0031308 ? 12.92 * value : 1.055 * value ** (1 / 2.4) - 0.055
            if (kind === 'RGB') expect(Math.abs(255 * code - codes[3 * i + c]!)).toBeLessThan(1e-3)
          }
        }
      }
      expect(changed).toBeGreaterThan(1000)
    },
  )

  test('a PNG patch has 16 bits in the movie’s encoding', async () => {
    const out = fresh()
    const { job, candidate } = await jobOf(rgb)
    const names = await writeCandidate(job, candidate, out, { format: 'png' })
    const { data, info } = await sharp(join(out, names[1]!), { ignoreIcc: true })
      .toColourspace('rgb16')
      .raw({ depth: 'ushort' })
      .toBuffer({ resolveWithObject: true })
    expect(info).toMatchObject({ width: WIDTH, height: HEIGHT, channels: 4 })
    const samples = new Uint16Array(new Uint8Array(data).buffer)
    // lent by whole pixels in the same light: the middle of the mask shows the donor's code
    const [x, y] = [70, 55]
    const [linear] = (await readRect(await openPlate(rgb, { encoding: 'linear' }), 5, { x, y, w: 1, h: 1 }))
      .data
    expect(Math.abs(samples[4 * (y * WIDTH + x)]! / 65535 - linear!)).toBeLessThan(1e-4)
    expect(samples[4 * (y * WIDTH + x) + 3]).toBe(65535)
  })

  test('all that repairs of several candidates read is decoded once, and is the same as decoded one by one', async () => {
    const { job, candidate } = await jobOf(ycbcr)
    // Resampled, so that its grain is put back, which frames beside the target tell.
    const other = {
      ...candidate,
      grain: 0.5,
      frames: candidate.frames.map((f) => ({ ...f, donor: f.donor - 1, dx: 1.5 })),
    }
    // A job of its own, which knows no grain yet.
    const repairs = (job: RepairJob) =>
      Promise.all([candidate, other].flatMap((c) => c.frames.map((match) => repairFrame(job, c, match))))
    const alone = await repairs((await jobOf(ycbcr)).job)
    const runs = counted()
    const together = await withFootage(job, [candidate, other], {}, () => repairs(job))
    expect(runs()).toBe(1)
    for (const [i, made] of together.entries()) {
      for (const of of ['target', 'donor', 'repaired'] as const)
        expect(
          Buffer.compare(Buffer.from(made[of].data.buffer), Buffer.from(alone[i]![of].data.buffer)),
        ).toBe(0)
    }
    // What lies on the target is the job's already, and the target's own frames; of the movie nothing is kept any longer.
    const [match] = candidate.frames
    await repairFrame(job, candidate, match!)
    expect(runs()).toBe(1)
    await readRect(job.target, match!.target, job.region.window)
    expect(runs()).toBe(2)
  })

  test('a sheet decodes nothing that the search has had, and in one pass what it has not', async () => {
    const repairs = (job: RepairJob, of: Candidate) =>
      Promise.all(of.frames.map((match) => repairFrame(job, of, match)))
    const box = { x: 60, y: 45, w: 30, h: 30 }
    const movie = filmed(plate, join(folder, 'searched.mov'), '-c:v', 'png', '-pix_fmt', 'rgb24')
    const result = await findDonors({ target: movie, frames: '3-4', box, reach: 4 })
    const found = result.candidates[0]!
    const stored = await repairs(await openRepair(result), found)
    const runs = counted()
    const job = onKeptLight(await openRepair(result))
    const drawn = await withFootage(job, [found], {}, () => repairs(job, found))
    expect(runs()).toBe(0)
    for (const [i, { repaired }] of drawn.entries()) {
      const worst = repaired.data.reduce(
        (most, v, k) => Math.max(most, Math.abs(v - stored[i]!.repaired.data[k]!)),
        0,
      )
      expect(worst).toBeLessThan(1e-3)
    }
    const { job: other, candidate } = await jobOf(ycbcr)
    const fresh = onKeptLight(other)
    await withFootage(fresh, [candidate], {}, () => repairs(fresh, candidate))
    expect(runs()).toBe(1)
  })

  test('where nothing can be kept it is decoded frame by frame, and called off in between it ends', async () => {
    const { job, candidate } = await jobOf(ycbcr)
    const repair = () => repairFrame(job, candidate, candidate.frames[0]!)
    const alone = await repair()
    vi.stubEnv('TMPDIR', join(folder, 'nowhere'))
    const made = await withFootage(job, [candidate], {}, repair)
    vi.unstubAllEnvs()
    expect(
      Buffer.compare(Buffer.from(made.repaired.data.buffer), Buffer.from(alone.repaired.data.buffer)),
    ).toBe(0)
    const signal = AbortSignal.abort(new Error('called off'))
    await expect(withFootage(job, [candidate], { signal }, repair)).rejects.toThrow('called off')
  })

  test('the light of a moment is lifted as it is from a sequence', async () => {
    const plate = await plantShade(join(folder, 'shaded'), {
      frames: 34,
      shades: [patch({ stops: -0.8, peak: 22, x: 78, y: 58, radius: 30 })],
    })
    const movie = filmed(plate.folder, join(folder, 'wall.mkv'), '-c:v', 'ffv1', '-pix_fmt', 'gbrp')
    const box = { x: 56, y: 40, w: 44, h: 36 }
    const result = await findBorrow({ target: movie, frames: '3-11', box, reach: 8 })
    const run = result.candidates[0]!
    const [out, job] = [fresh(), await openRepair(result)]
    const runs = counted()
    const names = await writeLighting(job, run, out)
    expect(runs()).toBe(1)
    expect(names[4]).toBe('wall_ratio.0007.exr')
    const at = await exrReader.read(join(out, names[4]!), box)
    const truth = plate.ratio(78, 58, 1000 + run.frames[4]!.donor)
    const middle = at.get(58 - box.y, 78 - box.x, 1)
    expect(truth).toBeLessThan(0.8)
    expect(Math.abs(middle / truth - 1)).toBeLessThan(0.05)
  })

  /** From now on counts how often ffmpeg is started: by a script of its name that comes before it. */
  function counted(): () => number {
    const bin = fresh()
    const log = join(bin, 'log')
    const real = execFileSync('sh', ['-c', 'command -v ffmpeg'], { encoding: 'utf8' }).trim()
    writeFileSync(log, '')
    writeFileSync(join(bin, 'ffmpeg'), `#!/bin/sh\necho >> '${log}'\nexec '${real}' "$@"\n`, { mode: 0o755 })
    process.env.PATH = `${bin}${delimiter}${path}`
    return () => readFileSync(log).length
  }
})
