// From footage to planted cases with all that needs no search: made once, kept in the temp folder, so that a run while
// tuning costs only the search itself.
import { mkdir, readFile, rename, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gunzipSync, gzipSync } from 'node:zlib'
import { type Baseline, runBaselines, type TemplatePick } from './baselines.js'
import type { Case } from './case.js'
import { type Disturbance, findDisturbance } from './disturbance.js'
import { type Footage, openFootage } from './footage.js'
import { writeStrip } from './look.js'
import type { Variant } from './motion.js'
import { findOracle, type Oracle } from './oracle.js'
import { pickStates } from './pick-states.js'
import { labelFrames, pickWindows, type Window } from './pick-windows.js'
import { rides } from './places.js'
import { describeCase, isPlanted, PLANTING, plant } from './plant.js'

/** A planted case, what the best eye would reach, and what is at hand today. */
export interface Prepared {
  readonly folder: string
  readonly planted: Case
  readonly oracle: Oracle
  /** Neither is at hand where the camera moves: both take the region to stand still. */
  readonly template?: TemplatePick
  readonly median?: Baseline
}

export interface PrepareOptions {
  readonly variants: readonly Variant[]
  readonly windows: number
  readonly seed: string
  /** Write contact strips of the picked windows here. */
  readonly look?: string
  readonly say: (line: string) => void
}

/** Goes up when the oracle or a baseline changes. */
const FIGURES = 2
/** Picked at once, so that a run with more windows keeps those of a run with fewer. */
const MAX_WINDOWS = 24

export async function prepare(spec: string, options: PrepareOptions): Promise<Prepared[]> {
  const { variants, seed, say } = options
  const footage = await openFootage(spec)
  const root = join(tmpdir(), 'offcut-eval', `${footage.key}-planting${PLANTING}-seed${seed}`)
  await mkdir(root, { recursive: true })
  const picked = await remembered<Window[]>(join(root, 'windows.json'), async () => {
    say(`${spec}: looking for windows`)
    return pickWindows(footage, await disturbanceOf(footage, root), { count: MAX_WINDOWS, seed })
  })
  const windows = picked.slice(0, options.windows)
  if (windows.length < options.windows) say(`${spec}: only ${windows.length} windows qualify`)
  const states = variants.includes('found')
    ? await remembered<Window[]>(join(root, 'states.json'), async () => {
        say(`${spec}: looking for windows in another state`)
        return pickStates(footage, await disturbanceOf(footage, root), { count: MAX_WINDOWS, seed })
      })
    : []
  if (options.look !== undefined)
    await lookAt(footage, windows, await disturbanceOf(footage, root), options.look)
  const wanted = variants.flatMap((variant) =>
    (variant === 'found' ? states.slice(0, options.windows) : windows).map((window, i) => ({
      variant,
      window,
      number: i + 1,
      folder: join(root, `${variant}-${i + 1}`),
    })),
  )
  const missing = []
  for (const w of wanted) if (!(await isPlanted(w.folder))) missing.push(w)
  if (missing.length > 0) {
    const disturbance = await disturbanceOf(footage, root)
    const cases = missing.map(({ folder, window, variant, number }) => ({
      folder,
      planted: describeCase(footage, disturbance, window, { variant, number, seed }),
    }))
    await plant(footage, cases, (done, total) => {
      if (done % 50 === 0 || done === total)
        say(`${spec}: planted ${done} of ${total} frames of ${cases.length} cases`)
    })
  }
  const prepared: Prepared[] = []
  for (const { folder } of wanted) {
    const planted = JSON.parse(await readFile(join(folder, 'case.json'), 'utf8')) as Case
    const figures = await remembered(join(folder, `figures${FIGURES}.json`), async () => {
      say(`${spec}: oracle and baselines of ${planted.id}`)
      const oracle = await findOracle(folder, planted)
      return rides(planted) ? { oracle } : { oracle, ...(await runBaselines(folder, planted)) }
    })
    prepared.push({ folder, planted, ...figures })
  }
  return prepared
}

async function lookAt(
  footage: Footage,
  windows: readonly Window[],
  disturbance: Disturbance,
  folder: string,
): Promise<void> {
  await mkdir(folder, { recursive: true })
  for (const [i, window] of windows.entries()) {
    await writeStrip(footage, window, labelFrames(disturbance, window.box), folder, `window-${i + 1}`)
  }
}

async function disturbanceOf(footage: Footage, root: string): Promise<Disturbance> {
  const path = join(root, 'disturbance.gz')
  const bytes = await readFile(path).catch(() => null)
  if (bytes !== null) return unpack(gunzipSync(bytes), footage)
  const found = await findDisturbance(footage)
  await writeWhole(path, gzipSync(pack(found), { level: 1 }))
  return found
}

function pack({ block, width, height, frames, restless }: Disturbance): Buffer {
  return Buffer.concat([Buffer.from(Uint32Array.of(block, width, height).buffer), restless, ...frames])
}

function unpack(bytes: Buffer, footage: Footage): Disturbance {
  const [block, width, height] = [0, 4, 8].map((at) => bytes.readUInt32LE(at))
  const size = width * height
  const part = (i: number) => bytes.subarray(12 + i * size, 12 + (i + 1) * size)
  return { block, width, height, restless: part(0), frames: footage.frames.map((_, i) => part(i + 1)) }
}

async function remembered<T>(path: string, make: () => Promise<T>): Promise<T> {
  const text = await readFile(path, 'utf8').catch(() => null)
  if (text !== null) return JSON.parse(text) as T
  const made = await make()
  await writeWhole(path, JSON.stringify(made))
  return made
}

async function writeWhole(path: string, content: string | Buffer): Promise<void> {
  const part = `${path}.part-${process.pid}`
  await writeFile(part, content)
  await rename(part, path)
}
