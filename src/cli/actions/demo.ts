// offcut demo: makes the quayside footage, hides the porter on it, borrows a shadow and a reflection, hides a shopper on
// market day and the porter once more from a tripod that pans, and says how close all of it came to the truth.
import { mkdir } from 'node:fs/promises'
import { dirname, join, resolve } from 'node:path'
import { type Closeness, compareWithTruth } from '../../demo/compare.js'
import { type MarketTruth, renderMarket, renderScene, type SceneTruth } from '../../demo/scene.js'
import { renderTripod, type TripodTruth } from '../../demo/tripod.js'
import { repairOf } from '../../repair/repair.js'
import { borrow as findMoment } from '../../search/borrow/borrow.js'
import { resultOf } from '../../search/events.js'
import { hide } from '../../search/hide/find.js'
import type { Candidate, Result } from '../../search/result.js'
import { writePatchFolder } from '../../sheet/patch-folder.js'
import { writeResultFolder } from '../../sheet/result-folder.js'
import { openShot } from '../../shot/open-shot.js'
import type { Io } from '../io.js'
import { writeFolder } from '../output.js'
import { candidateTable } from '../table.js'

export interface DemoFlags {
  out: string
  overwrite?: boolean
}

/** @throws as what it calls */
export async function demo({ out, overwrite = false }: DemoFlags, io: Io): Promise<void> {
  const started = performance.now()
  const care = { onProgress: io.progress.report, signal: io.signal, overwrite }
  const truth = await renderScene(join(resolve(out), 'footage'), {}, care)
  const porter = await hideIn(out, truth, truth.hide.mask, overwrite, io)
  io.print(...candidateTable(porter.found, io.columns))
  if (porter.made === null) return
  const { first, last } = truth.hide
  io.print(`sheet   ${join(out, 'hide', 'sheet.html')}, sheet.png`)
  io.print(
    `patch   ${join(out, 'patch')}: ${porter.made.best.id}, frames ${first} to ${last}, with check.html, patch.json, patch.csv, patch.otio`,
  )
  const [near, offsets] = closenessInWords('porter', porter.made.closeness)
  io.print(`truth   ${near}`, `        ${offsets}`)
  await borrow('shadow', out, truth, overwrite, io)
  await borrow('reflection', out, truth, overwrite, io)
  await hideOnMarketDay(join(out, 'market'), overwrite, io)
  await hideFromTripod(join(out, 'tripod'), overwrite, io)
  io.print(
    `desk    offcut desk ${join(out, 'footage', dirname(truth.plate.pattern))} opens the quayside to draw on`,
  )
  io.print(`        all of it took ${Math.round((performance.now() - started) / 1000)} s`)
}

/** What hiding somebody came to; `made` is null where nothing was found to lend. */
interface Hidden {
  readonly found: Result
  readonly made: { readonly best: Candidate; readonly closeness: Closeness } | null
}

/** Searches the footage in a folder, writes result and patch beside it, and compares with the truth. */
async function hideIn(
  out: string,
  truth: SceneTruth | MarketTruth | TripodTruth,
  mask: string,
  overwrite: boolean,
  io: Io,
): Promise<Hidden> {
  const folder = resolve(out)
  const footage = join(folder, 'footage')
  const held = [join(footage, 'plate'), join(footage, 'mask')]
  const shot = await openShot({
    target: join(footage, truth.plate.pattern),
    mask: join(footage, mask),
    frames: `${truth.hide.first}-${truth.hide.last}`,
    ...('take' in truth ? { maskAt: truth.hide.at, donors: [join(footage, truth.take.pattern)] } : {}),
  })
  let result: Result | undefined
  await writeFolder(join(folder, 'hide'), { overwrite, footage: held, note: io.say }, async (staging) => {
    result = await resultOf(hide(shot, { signal: io.signal }), io.progress.report)
    await writeResultFolder(staging, repairOf(shot, result), {
      onProgress: io.progress.report,
      signal: io.signal,
    })
  })
  const found = result!
  const best = found.candidates[0]
  io.progress.clear()
  if (best === undefined) return { found, made: null }
  const job = repairOf(shot, found)
  await writeFolder(join(folder, 'patch'), { overwrite, footage: held, note: io.say }, async (staging) => {
    await writePatchFolder(staging, job, best, { onProgress: io.progress.report, signal: io.signal })
  })
  const closeness = await compareWithTruth(job, best, truth)
  io.progress.clear()
  return { found, made: { best, closeness } }
}

function closenessInWords(who: 'porter' | 'shopper', { repair, grain, offsetPx }: Closeness) {
  return [
    `the repair is ${repair.toFixed(1)} dB from the noise-free plate without the ${who}, inside the mask, before grain is put back; the plate's own grain alone is ${grain.toFixed(1)} dB from it`,
    `the 2D offsets are off by ${offsetPx.toFixed(3)} px RMS`,
  ] as const
}

/**
 * Makes the market footage in a folder, hides the shopper on it, where somebody stands in the region on every frame, and
 * says how near the truth it came.
 */
export async function hideOnMarketDay(out: string, overwrite: boolean, io: Io): Promise<void> {
  const care = { onProgress: io.progress.report, signal: io.signal, overwrite }
  const truth = await renderMarket(join(resolve(out), 'footage'), {}, care)
  const { made } = await hideIn(out, truth, truth.hide.stillMask, overwrite, io)
  if (made === null) {
    io.print('market     no donor found')
    return
  }
  const { best, closeness } = made
  const lenders = best.frames[0].pieces?.map((piece) => piece.frame)
  const how =
    lenders === undefined ? '' : ` takes each part from one that is empty there (${lenders.join(', ')})`
  const [near, offsets] = closenessInWords('shopper', closeness)
  io.print(`market     no frame is empty; ${best.id}${how}: ${join(out, 'hide', 'sheet.html')}`)
  io.print(`           ${near}`, `           ${offsets}`)
}

/**
 * Makes the quay from a panning tripod with a second take beside it, hides the porter by a mask that was drawn on one frame,
 * and says how near the truth it came.
 */
export async function hideFromTripod(out: string, overwrite: boolean, io: Io): Promise<void> {
  const care = { onProgress: io.progress.report, signal: io.signal, overwrite }
  const truth = await renderTripod(join(resolve(out), 'footage'), care)
  const { found, made } = await hideIn(out, truth, truth.hide.mask, overwrite, io)
  if (made === null) {
    io.print('tripod     no donor found')
    return
  }
  const take = found.candidates.find(({ donor }) => donor === 1)
  const { best, closeness } = made
  const other =
    take === undefined
      ? 'nothing of the second take was found'
      : `of the second take, of another size and darker, ${take.id} is best (${take.verdict})`
  const [near, offsets] = closenessInWords('porter', closeness)
  io.print(
    `tripod     the camera pans, rolls and zooms; ${best.id} ${best.verdict}; ${other}: ${join(out, 'hide', 'sheet.html')}`,
  )
  io.print(`           ${near}`, `           ${offsets}`)
}

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
  let best: Candidate | undefined
  await writeFolder(join(resolve(out), what), { overwrite, footage: held, note: io.say }, async (staging) => {
    const shot = await openShot({
      target: join(footage, truth.plate.pattern),
      mask: join(footage, wanted.mask),
      frames: `${wanted.target.first}-${wanted.target.last}`,
    })
    const asked = { peak: wanted.target.peak, sign: wanted.sign, keep: 2, signal: io.signal }
    const result = await resultOf(findMoment(shot, asked), io.progress.report)
    const job = repairOf(shot, result)
    await writeResultFolder(staging, job, { onProgress: io.progress.report, signal: io.signal })
    best = result.candidates[0]
    if (best === undefined) return
    const folder = join(staging, 'ratio')
    await mkdir(folder)
    await writePatchFolder(folder, job, best, { onProgress: io.progress.report, signal: io.signal })
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
