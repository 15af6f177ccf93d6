// What the artist waits for: `offcut find` from the shell to the sheet on disk, with nothing in the cache. Against decoding the
// rectangles that it needs, by our own readers; and of EXRs against OpenEXR merely decoding all frames.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { grow, type Rect } from '../../src/raster/rect.js'
import { type Figure, told } from './figures.js'
import { INSTALL, pythonThat, scripted } from './opencv.js'
import { type BenchPlate, repeatedPlate } from './plate.js'
import { alternate, withHome } from './timing.js'

const FRAMES = 24
const BOX: Rect = { x: 1800, y: 900, w: 256, h: 256 }
const CODECS = ['none', 'zip', 'piz', 'dwaa'] as const
/** Processor time over OpenEXR's. */
const MAX_OF_OPENEXR = 1
const MAX_OF_DECODING = 1.6
/** Of a longer plate: its frames are these 24 over and over, and something stands there on the targets' middle third. */
const LONG = { frames: 120, targets: '1053-1064', reach: 16, most: 1.5 }

/** @param around pixels round the region that are read */
export async function sheetFigures(
  plate: BenchPlate,
  job: { readonly box: Rect; readonly frames: string; readonly reach: number; readonly around: number },
  rounds: number,
  say: (line: string) => void,
  { what = 'find with its sheet over decoding its rectangles', most = MAX_OF_DECODING } = {},
): Promise<Figure[]> {
  say(what)
  const { box, frames, reach, around } = job
  const { decode, sheet } = await alternate(
    {
      decode: { what: 'decode', plate: plate.folder, frames: plate.frames, rect: grow(box, around) },
      sheet: { what: 'sheet', plate: plate.folder, box, frames, reach },
    },
    rounds,
    say,
  )
  return [
    {
      what,
      value: sheet.least / decode.least,
      unit: 'times',
      most,
      detail: `${told(sheet)} over ${told(decode)}, ${plate.frames} frames of ${plate.width} x ${plate.height}, targets ${frames}`,
    },
  ]
}

export async function wholeFigures(
  around: number,
  rounds: number,
  say: (line: string) => void,
): Promise<Figure[]> {
  say(`offcut find on ${FRAMES} frames of 4096 x 2160 against OpenEXR decoding them`)
  const what = (codec: string) => `offcut find on ${codec} EXRs over OpenEXR decoding them whole, processor`
  const folder = await mkdtemp(join(tmpdir(), 'offcut-bench-whole-'))
  try {
    const python = pythonThat('plates', join(folder, 'plates'), String(FRAMES))
    if (python === undefined) {
      say(`  not measured: ${INSTALL}`)
      return CODECS.map((codec) => ({
        what: what(codec),
        value: null,
        unit: 'times',
        most: MAX_OF_OPENEXR,
        detail: INSTALL,
      }))
    }
    const figures: Figure[] = []
    for (const codec of CODECS) {
      const plate = join(folder, 'plates', codec)
      let [ours, theirs] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY]
      for (let round = 0; round < rounds; round++) {
        ours = Math.min(ours, await commandSeconds(python, plate, join(folder, `out-${codec}-${round}`)))
        theirs = Math.min(theirs, secondsOf(scripted(python, 'all', plate)))
        say(`  ${codec}: ${ours.toFixed(2)} s, OpenEXR ${theirs.toFixed(2)} s`)
      }
      figures.push({
        what: what(codec),
        value: ours / theirs,
        unit: 'times',
        most: MAX_OF_OPENEXR,
        detail: `${ours.toFixed(2)} s over ${theirs.toFixed(2)} s of processor, least of ${rounds} rounds in turn; empty cache, sheet on disk`,
      })
      if (codec !== 'none') figures.push(...(await longFigures(codec, plate, around, rounds, say)))
    }
    return figures
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

async function longFigures(
  codec: string,
  folder: string,
  around: number,
  rounds: number,
  say: (line: string) => void,
): Promise<Figure[]> {
  const { frames, targets, reach, most } = LONG
  const short = { folder, width: 4096, height: 2160, frames: FRAMES, post: true }
  const what = `find with its sheet over decoding its rectangles, ${codec} EXRs`
  const job = { box: BOX, frames: targets, reach, around }
  return sheetFigures(await repeatedPlate(short, frames), job, rounds, say, { what, most })
}

/** Processor seconds of the built command, as a shell starts it. */
function commandSeconds(python: string, plate: string, out: string): Promise<number> {
  const { x, y, w, h } = BOX
  const find = ['find', plate, '--box', [x, y, w, h].join(','), '--frames', '1009-1012', '--out', out]
  return withHome(async (home) => {
    const command = ['env', `XDG_CACHE_HOME=${home}`, `HOME=${home}`, process.execPath]
    return secondsOf(scripted(python, 'run', ...command, resolve('bin/offcut.js'), ...find))
  })
}

function secondsOf(told: string | null): number {
  if (told === null) throw new Error('what is timed failed')
  return (JSON.parse(told) as { seconds: number }).seconds
}
