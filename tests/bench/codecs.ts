// Decoding a rectangle of an EXR frame against OpenEXR decoding all of it, by a Python with OpenCV where there is one
// (Debian: python3-opencv): processor time of all threads on both sides.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { exrReader } from '../../src/footage/exr/reader.js'
import type { Figure } from './figures.js'
import { INSTALL, pythonThat, scripted } from './opencv.js'

/** In 4096 x 2160: what a box of 256 x 256 is searched by at the usual reach. 0.22 of the rows. */
const RECT = { x: 1690, y: 790, w: 476, h: 476 }
/** At most so much of OpenEXR's own whole frame. */
const BARS = { none: 0.1, zips: 0.27, zip: 0.27, piz: 0.27, dwaa: 0.35 } as const
/** Ours are so short that a few of them make one round. */
const READS = 4
/** Rounds that are not counted: the engine compiles what it sees often. */
const WARM_UP = 3

export async function codecFigures(rounds: number, say: (line: string) => void): Promise<Figure[]> {
  say('a rectangle of an EXR against OpenEXR decoding the frame')
  const names = Object.keys(BARS) as (keyof typeof BARS)[]
  const what = (name: string) => `476 x 476 of a ${name} EXR of 4096 x 2160 over OpenEXR's whole frame`
  const folder = await mkdtemp(join(tmpdir(), 'offcut-bench-codecs-'))
  try {
    const python = pythonThat('make', folder)
    if (python === undefined) {
      say(`  not measured: ${INSTALL}`)
      return names.map((name) => ({
        what: what(name),
        value: null,
        unit: 'times',
        most: BARS[name],
        detail: INSTALL,
      }))
    }
    const figures: Figure[] = []
    for (const name of names) {
      const path = join(folder, `${name}.exr`)
      for (let i = 0; i < WARM_UP; i++) await processorOf(path)
      let [ours, theirs, version] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY, '']
      for (let round = 0; round < rounds; round++) {
        ours = Math.min(ours, await processorOf(path))
        const told = scripted(python, 'time', path)
        if (told === null) throw new Error(`${name}.exr was not decoded by ${python}`)
        const { seconds, version: by } = JSON.parse(told)
        theirs = Math.min(theirs, seconds)
        version = by
      }
      const ms = (seconds: number) => `${(1000 * seconds).toFixed(1)} ms`
      figures.push({
        what: what(name),
        value: ours / theirs,
        unit: 'times',
        most: BARS[name],
        detail: `${ms(ours)} over ${ms(theirs)} of processor (OpenCV ${version}), least of ${rounds} rounds in turn, ours warmed up`,
      })
    }
    say(`  (${sink})`)
    return figures
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

let sink = 0

/** Seconds of processor that reading the rectangle once takes. */
async function processorOf(path: string): Promise<number> {
  const before = process.cpuUsage()
  for (let i = 0; i < READS; i++) sink += (await exrReader.readHalves!(path, RECT))![i]
  const { user, system } = process.cpuUsage(before)
  return (user + system) / 1e6 / READS
}
