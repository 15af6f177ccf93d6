// `npm run eval -- <plate> [...]`: plants truth on locked-off footage and measures the search against it.
import { basename } from 'node:path'
import { parseArgs } from 'node:util'
import { misuse } from '../../src/errors.js'
import { summarise } from './bars.js'
import { CAMERAS, cameraOf, cameraPlate } from './cameras.js'
import { type Evaluated, evaluate } from './evaluate.js'
import { VARIANTS, type Variant } from './motion.js'
import { prepare } from './prepare.js'
import { caseTable, outsideTable, type Report, summaryTable, writeReport } from './report.js'

const HELP = `npm run eval -- <plate> [...] [--variant ${VARIANTS.join(',')}] [--windows 6] [--seed 1] [--out eval-results] [--look FOLDER] [--outside]
  --variant  only these      --windows  places per variant      --seed  other places, other truth
  --look     contact strips of the places that were picked, to check by eye that they are truly empty
  --outside  OpenCV's feature homography and ECC on the same pairs, where the camera moves or lends another take
Planted plates are kept in the temp folder below offcut-eval; it may be deleted at any time.
A plate is footage of yours from a locked-off camera, or one that is made from nothing: ${CAMERAS.join(', ')}.
Of several plates each has its column: what is tuned on one is read on the others.`

export async function main(args: string[]): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      variant: { type: 'string', default: VARIANTS.join(',') },
      windows: { type: 'string', default: '6' },
      seed: { type: 'string', default: '1' },
      out: { type: 'string', default: 'eval-results' },
      look: { type: 'string' },
      outside: { type: 'boolean', default: false },
      help: { type: 'boolean' },
    },
  })
  if (values.help) {
    console.log(HELP)
    return 0
  }
  if (positionals.length === 0) throw misuse('npm run eval --', 'at least one plate', 'none')
  const variants = values.variant.split(',').map(variantOf)
  const windows = Number(values.windows)
  if (!Number.isInteger(windows) || windows < 1 || windows > 24)
    throw misuse('--windows', '1 to 24', values.windows)
  const reports: Report[] = []
  for (const spec of positionals) {
    const say = (line: string) => process.stderr.write(`${line}\n`)
    const camera = cameraOf(spec)
    const plate = camera === null ? spec : await cameraPlate(camera, say)
    const prepared = await prepare(plate, { variants, windows, seed: values.seed, look: values.look, say })
    const cases: Evaluated[] = []
    for (const p of prepared) {
      say(`${spec}: searching ${p.planted.id}`)
      cases.push(await evaluate(p, { beside: values.outside }))
    }
    // Footage that knows one state only has no case of some variant.
    const summaries = variants
      .map((v) => ({ v, of: cases.filter((c) => c.prepared.planted.variant === v) }))
      .filter(({ of }) => of.length > 0)
      .map(({ v, of }) => summarise(v, of))
    const report = { footage: basename(spec), seed: values.seed, summaries, cases }
    reports.push(report)
    console.log(`${spec}\n${caseTable(cases)}\n`)
    console.log(`${await writeReport(values.out, `${report.footage}-seed${values.seed}`, report)}\n`)
  }
  console.log(summaryTable(reports))
  if (values.outside) console.log(`\n${outsideTable(reports)}`)
  return 0
}

function variantOf(name: string): Variant {
  const found = VARIANTS.find((v) => v === name)
  if (found === undefined) throw misuse('--variant', VARIANTS.join(', '), name)
  return found
}
