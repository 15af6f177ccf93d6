// offcut demo: makes the quayside footage, hides the porter on it, borrows a shadow and a reflection, and says how close
// all of it came to the truth.
import { mkdir } from 'node:fs/promises'
import { join, resolve } from 'node:path'
import type { Command } from 'commander'
import { encode } from '../../colour/transfer.js'
import { cleanFrame, renderScene, type SceneTruth } from '../../demo/scene.js'
import { writeLighting } from '../../repair/lighting/write.js'
import { type RepairedFrame, type RepairJob, repairFrame, repairOf } from '../../repair/repair.js'
import { writeCandidate } from '../../repair/write.js'
import { borrow as findMoment } from '../../search/borrow/borrow.js'
import { resultOf } from '../../search/events.js'
import { hide } from '../../search/hide/find.js'
import type { Candidate, Result } from '../../search/result.js'
import { writeResultFolder } from '../../sheet/result-folder.js'
import { openShot } from '../../shot/open-shot.js'
import type { Io } from '../io.js'
import { outFolder, overwriteOption } from '../options.js'
import { writeFolder } from '../output.js'
import { candidateTable } from '../table.js'

interface DemoFlags {
  out: string
  overwrite?: boolean
}

export function addDemo(program: Command, io: Io): void {
  program
    .command('demo')
    .description(
      'make the quayside footage, hide the porter who crosses it, borrow the heron’s shadow and a reflection',
    )
    .option('--out <dir>', 'where to write', outFolder, 'offcut-demo')
    .addOption(overwriteOption())
    .action((flags: DemoFlags) => demo(flags, io))
}

async function demo({ out, overwrite = false }: DemoFlags, io: Io): Promise<void> {
  const started = performance.now()
  const folder = resolve(out)
  const footage = join(folder, 'footage')
  const truth = await renderScene(
    footage,
    {},
    { onProgress: io.progress.report, signal: io.signal, overwrite },
  )
  const { first, last, mask } = truth.hide
  const shot = await openShot({
    target: join(footage, truth.plate.pattern),
    mask: join(footage, mask),
    frames: `${first}-${last}`,
  })
  let result: Result | undefined
  const held = [join(footage, 'plate'), join(footage, 'mask')]
  await writeFolder(join(folder, 'hide'), { overwrite, footage: held, note: io.say }, async (staging) => {
    result = await resultOf(hide(shot, { signal: io.signal }), io.progress.report)
    await writeResultFolder(staging, repairOf(shot, result), {
      onProgress: io.progress.report,
      signal: io.signal,
    })
  })
  const found = result!
  const job = repairOf(shot, found)
  const best = found.candidates[0]
  io.progress.clear()
  io.print(...candidateTable(found, io.columns))
  if (best === undefined) return
  await writeFolder(join(folder, 'patch'), { overwrite, footage: held, note: io.say }, async (staging) => {
    await writeCandidate(job, best, staging, { onProgress: io.progress.report, signal: io.signal })
  })
  const closeness = await compare(job, best, truth)
  io.progress.clear()
  io.print(`sheet   ${join(out, 'hide', 'sheet.html')}, sheet.png`)
  io.print(`patch   ${join(out, 'patch')}: ${best.id}, frames ${first} to ${last}`)
  io.print(
    `truth   the repair is ${closeness.repair.toFixed(1)} dB from the noise-free plate without the porter, inside the mask; the plate's own grain alone is ${closeness.grain.toFixed(1)} dB from it`,
  )
  io.print(`        the 2D offsets are off by ${closeness.offsetPx.toFixed(3)} px RMS`)
  await borrow('shadow', out, truth, overwrite, io)
  await borrow('reflection', out, truth, overwrite, io)
  io.print(`        all of it took ${Math.round((performance.now() - started) / 1000)} s`)
}

/** Target frames that a shadow or a reflection is borrowed for, round the wanted peak. */
const BORROWED_FRAMES = 12

/** Borrows the heron's shadow for the quiet wall, or the shutter's reflection, and says how near the truth it came. */
async function borrow(
  what: 'shadow' | 'reflection',
  out: string,
  truth: SceneTruth,
  overwrite: boolean,
  io: Io,
): Promise<void> {
  const wanted = truth[what]
  const footage = join(resolve(out), 'footage')
  const held = [join(footage, 'plate'), join(footage, 'mask')]
  const first = wanted.target.peak - BORROWED_FRAMES / 2
  let best: Candidate | undefined
  await writeFolder(join(resolve(out), what), { overwrite, footage: held, note: io.say }, async (staging) => {
    const shot = await openShot({
      target: join(footage, truth.plate.pattern),
      mask: join(footage, wanted.mask),
      frames: `${first}-${first + BORROWED_FRAMES - 1}`,
    })
    const asked = { peak: wanted.target.peak, sign: wanted.sign, keep: 2, signal: io.signal }
    const result = await resultOf(findMoment(shot, asked), io.progress.report)
    const job = repairOf(shot, result)
    await writeResultFolder(staging, job, { onProgress: io.progress.report, signal: io.signal })
    best = result.candidates[0]
    if (best === undefined) return
    const folder = join(staging, 'ratio')
    await mkdir(folder)
    await writeLighting(job, best, folder, { onProgress: io.progress.report, signal: io.signal })
  })
  io.progress.clear()
  const moment = best?.moment
  if (best === undefined || moment === undefined) {
    io.print(`${what.padEnd(10)} not found`)
    return
  }
  const depth = 100 * (moment.depthStops / wanted.depthStops - 1)
  io.print(
    `${what.padEnd(10)} ${best.id}, peak ${moment.peak} (truth ${wanted.peak}), offset ${best.timeOffset} (truth ${wanted.timeOffset}), depth ${moment.depthStops.toFixed(3)} stops (truth ${wanted.depthStops.toFixed(3)}, ${depth < 0 ? '' : '+'}${depth.toFixed(1)} %): ${join(out, what)}`,
  )
}

/** PSNR in display-encoded values, peak 1, over the mask of all target frames; and the offsets' error. */
async function compare(
  job: RepairJob,
  best: Candidate,
  truth: SceneTruth,
): Promise<{ repair: number; grain: number; offsetPx: number }> {
  const sway = new Map(truth.frames.map((f) => [f.frame, f]))
  let squares = 0
  let grain = 0
  let pixels = 0
  let grainPixels = 0
  let offset = 0
  for (const match of best.frames) {
    const made = await repairFrame(job, match, best.grain)
    const clean = cleanFrame(truth, match.target)
    const inside = squareError(
      made,
      made.repaired.data,
      clean.data,
      truth.plate.width,
      (i) => made.mask[i] > 0,
    )
    const outside = squareError(
      made,
      made.target.data,
      clean.data,
      truth.plate.width,
      (i) => made.alpha[i] === 0,
    )
    squares += inside.sum
    pixels += inside.count
    grain += outside.sum
    grainPixels += outside.count
    const a = sway.get(match.target)!
    const b = sway.get(match.donor)!
    offset += (match.dx - (a.dx - b.dx)) ** 2 + (match.dy - (a.dy - b.dy)) ** 2
  }
  const decibels = (sum: number, count: number) => -10 * Math.log10(sum / Math.max(1, count))
  return {
    repair: decibels(squares, pixels),
    grain: decibels(grain, grainPixels),
    offsetPx: Math.sqrt(offset / best.frames.length),
  }
}

function squareError(
  { rect }: RepairedFrame,
  picture: Readonly<Float32Array>,
  clean: Readonly<Float32Array>,
  plateWidth: number,
  counts: (pixel: number) => boolean,
): { sum: number; count: number } {
  let sum = 0
  let count = 0
  for (let y = 0, i = 0; y < rect.h; y++) {
    let at = ((rect.y + y) * plateWidth + rect.x) * 3
    for (let x = 0; x < rect.w; x++, i++, at += 3) {
      if (!counts(i)) continue
      for (let c = 0; c < 3; c++) {
        sum += (encode(picture[3 * i + c], 'srgb') - encode(clean[at + c], 'srgb')) ** 2
        count++
      }
    }
  }
  return { sum, count }
}
