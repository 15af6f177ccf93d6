// `node tests/run.mjs tests/eval/borrow-main.ts <plate>`: plants shades among real walkers and hunts them.
import { mkdir, rename, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { basename, join } from 'node:path'
import { parseArgs } from 'node:util'
import { misuse } from '../../src/errors.js'
import { type Hunted, hunt } from './borrow-evaluate.js'
import { plantedShade, plantShades, roomAbove, SHADING, shadeFor } from './borrow-plant.js'
import { findDisturbance } from './disturbance.js'
import { openFootage } from './footage.js'
import type { Variant } from './motion.js'
import { pickWindows } from './pick-windows.js'
import { aligned } from './report.js'
import { median } from './statistics.js'

const HELP = `node tests/run.mjs tests/eval/borrow-main.ts <plate> [--cases 24] [--seed 1] [--out eval-results]
Planted plates are kept in the temp folder below offcut-eval; it may be deleted at any time.`

/** Two in three stand still; the others flicker, or flicker and sway. */
const VARIANTS: readonly Variant[] = ['plain', 'plain', 'flicker', 'plain', 'plain', 'sway']
const WINDOWS = 24
/** Shades deeper than this may never lie below a walker. */
const SURE_STOPS = 0.25

export async function main(args: string[]): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      cases: { type: 'string', default: '24' },
      seed: { type: 'string', default: '1' },
      out: { type: 'string', default: 'eval-results' },
      help: { type: 'boolean' },
    },
  })
  if (values.help) {
    console.log(HELP)
    return 0
  }
  if (positionals.length !== 1) throw misuse('borrow-main', 'one plate', positionals.join(' ') || 'none')
  const count = Number(values.cases)
  if (!Number.isInteger(count) || count < 1 || count > 480) throw misuse('--cases', '1 to 480', values.cases)
  const say = (line: string) => process.stderr.write(`${line}\n`)
  const footage = await openFootage(positionals[0])
  const root = join(tmpdir(), 'offcut-eval', `${footage.key}-shading${SHADING}-seed${values.seed}`)
  await mkdir(root, { recursive: true })
  const wanted = Array.from({ length: count }, (_, i) => ({
    number: i + 1,
    variant: VARIANTS[i % VARIANTS.length],
    folder: join(root, `shade-${i + 1}`),
  }))
  const missing = []
  for (const w of wanted) if ((await plantedShade(w.folder)) === null) missing.push(w)
  if (missing.length > 0) {
    say('looking for windows')
    const disturbance = await findDisturbance(footage)
    const windows = pickWindows(footage, disturbance, { count: WINDOWS, seed: values.seed })
    const cases = []
    for (const { folder, variant, number } of missing) {
      const window = windows[(number - 1) % windows.length]
      const room = await roomAbove(footage, window)
      const planted = shadeFor(footage, disturbance, window, { variant, number, seed: values.seed, room })
      cases.push({ folder, planted })
    }
    await plantShades(footage, cases, (done, total) => {
      if (done % 50 === 0 || done === total)
        say(`planted ${done} of ${total} frames of ${cases.length} cases`)
    })
  }
  const hunted: Hunted[] = []
  for (const { folder } of wanted) {
    const planted = (await plantedShade(folder))!
    hunted.push(await hunt(footage, folder, planted))
    const h = hunted[hunted.length - 1]
    say(`${planted.id}: place ${h.place}, ${h.seconds.toFixed(1)} s`)
  }
  console.log(`${caseTable(hunted)}\n\n${summary(hunted)}`)
  await mkdir(values.out, { recursive: true })
  const path = join(values.out, `${basename(positionals[0])}-borrow-seed${values.seed}.json`)
  await writeFile(`${path}.part`, `${JSON.stringify(hunted, null, 1)}\n`)
  await rename(`${path}.part`, path)
  console.log(path)
  return 0
}

function caseTable(hunted: readonly Hunted[]): string {
  const head = `case, stops, deepest, peak, start, end, busy, place,
    score, d peak, d depth, surface, lift, applied, grain, d planted, on planted, perfect, above, s`.split(
    /,\s+/,
  )
  const rows = hunted.map((h) => {
    const { planted: p } = h
    return [
      p.id,
      p.shade.stops.toFixed(2),
      p.deepest.toFixed(2),
      String(p.strongest),
      String(p.start),
      String(p.end),
      `${Math.round(100 * p.window.disturbedShare)}%`,
      String(h.place),
      h.place < 0 ? '-' : h.candidates[h.place].score.toFixed(1),
      h.peakError === null ? '-' : String(h.peakError),
      figure(h.depthError),
      figure(h.surface),
      figure(h.liftError),
      figure(h.appliedDb),
      figure(h.grainDb),
      figure(h.plantedDepthError),
      figure(h.plantedDb),
      figure(h.perfectDb),
      h.above.map((a) => `${a.id}:${a.label}`).join(' ') || '-',
      h.seconds.toFixed(1),
    ]
  })
  return aligned([head, ...rows])
}

function summary(hunted: readonly Hunted[]): string {
  const n = hunted.length
  const found = hunted.filter((h) => h.place >= 0)
  const share = (k: number, of: number) =>
    of === 0 ? 'none' : `${k} of ${of} = ${((100 * k) / of).toFixed(1)} %`
  const walkers = hunted.filter(
    (h) => Math.abs(h.planted.deepest) > SURE_STOPS && h.above.some((a) => a.label === 'disturbed'),
  )
  const lifts = found.flatMap((h) => h.liftError ?? [])
  const lossOf = (of: (h: Hunted) => number | null) =>
    found.flatMap((h) => (h.grainDb === null ? [] : h.grainDb - of(h)!))
  const losses = lossOf((h) => h.appliedDb)
  const onPlanted = lossOf((h) => h.plantedDb)
  const perfect = lossOf((h) => h.perfectDb)
  return aligned([
    ['figure', 'value', 'bar'],
    ['right moment first', share(hunted.filter((h) => h.place === 0).length, n), '>= 95 %'],
    ['peak within a frame', share(found.filter((h) => Math.abs(h.peakError!) <= 1).length, n), 'all'],
    ['depth within 10 %', share(found.filter((h) => Math.abs(h.depthError!) <= 0.1).length, n), 'all'],
    ['depth error, median of size', figure(median(found.map((h) => Math.abs(h.depthError!)))), ''],
    ['lifted ratio within 5 % RMS', share(lifts.filter((v) => v <= 0.05).length, lifts.length), 'all'],
    ['lift error, median', figure(median(lifts)), ''],
    ['applied within 1 dB of grain', share(losses.filter((v) => v <= 1).length, losses.length), 'all'],
    ['dB lost to grain, median', figure(median(losses)), ''],
    ['with the footage’s own light as error:', '', ''],
    ['  depth within 10 %', share(found.filter((h) => Math.abs(h.plantedDepthError!) <= 0.1).length, n), ''],
    ['  applied within 1 dB of grain', share(onPlanted.filter((v) => v <= 1).length, onPlanted.length), ''],
    ['  dB lost to grain, median', figure(median(onPlanted)), ''],
    ['  a perfect lift within 1 dB', share(perfect.filter((v) => v <= 1).length, perfect.length), ''],
    [`walkers as light above > ${SURE_STOPS} stops`, String(walkers.length), '0'],
    [
      'planted said to hold or to need work',
      share(found.filter((h) => h.candidates[h.place].verdict !== 'will not hold').length, n),
      '',
    ],
    ['seconds a search, median', figure(median(hunted.map((h) => h.seconds))), ''],
  ])
}

function figure(value: number | null): string {
  return value === null ? '-' : value.toFixed(3)
}
