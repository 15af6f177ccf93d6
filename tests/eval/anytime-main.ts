// `npm run eval:anytime -- <plate> [...]`: how soon a search has something to show, and what telling it costs.
import { basename } from 'node:path'
import { parseArgs } from 'node:util'
import { misuse } from '../../src/errors.js'
import { type AnytimeCase, anytimeCase, type Early } from './anytime.js'
import { CAP_DB } from './bars.js'
import { VARIANTS, type Variant } from './motion.js'
import { prepare } from './prepare.js'
import { aligned } from './report.js'
import { median, worst } from './statistics.js'

const HELP = `npm run eval:anytime -- <plate> [...] [--variant plain,sway] [--windows 4] [--rounds 2] [--seed 1]
  Rankings on the way against the last one, by planted truth: dB inside that the first candidate loses against the final
  one over the same target frames, after a tenth, a quarter and half of the frames; and the processor time of a search that tells them
  over one that does not. Whatever lies above ${CAP_DB} dB counts as ${CAP_DB}; in brackets the raw loss.
  Wanted: within 3 dB at the median after a tenth, in nine of ten after a quarter; at most 5 % of the time.
  --rounds 0 times nothing`

/** Wanted: a first candidate within so many dB of the final one. */
const WITHIN_DB = 3
/** A ranking counts for a share that it exceeds by no more than a run of frames. */
const MARKS = [0.1, 0.25, 0.5]

export async function main(args: string[]): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      variant: { type: 'string', default: 'plain,sway' },
      windows: { type: 'string', default: '4' },
      rounds: { type: 'string', default: '2' },
      seed: { type: 'string', default: '1' },
      help: { type: 'boolean' },
    },
  })
  if (values.help) {
    console.log(HELP)
    return 0
  }
  if (positionals.length === 0) throw misuse('npm run eval:anytime --', 'at least one plate', 'none')
  const variants = values.variant.split(',').map((name): Variant => {
    const found = VARIANTS.find((v) => v === name)
    if (found === undefined) throw misuse('--variant', VARIANTS.join(', '), name)
    return found
  })
  const [windows, rounds] = [values.windows, values.rounds].map(Number)
  for (const spec of positionals) {
    const say = (line: string) => process.stderr.write(`${line}\n`)
    const prepared = await prepare(spec, { variants, windows, seed: values.seed, say })
    const cases: AnytimeCase[] = []
    for (const one of prepared) {
      say(`${spec}: searching ${one.planted.id}`)
      cases.push(await anytimeCase(one, rounds))
      console.log(lineOf(cases.at(-1)!))
    }
    console.log(`${basename(spec)}\n${summaryOf(cases)}\n`)
  }
  return 0
}

function lineOf({ id, final, early, seconds }: AnytimeCase): string {
  const parts = early.map((e) => `${percent(e.read)} ${e.id ?? 'none'} ${lossWords(e)}`)
  const times = seconds.map(({ anytime, plain }) => `${anytime.toFixed(2)}/${plain.toFixed(2)} s`)
  return `${id.padEnd(10)} ${parts.join(' | ')} | at last ${final} | ${times.join(', ')}`
}

/** What the first candidate loses; nothing was there: all of it. @param cap what lies above it counts as it */
function lossOf({ db, finalDb }: Early, cap: number): number {
  return db === null ? Number.POSITIVE_INFINITY : Math.min(cap, finalDb) - Math.min(cap, db)
}

function lossWords(early: Early): string {
  const [capped, raw] = [CAP_DB, Number.POSITIVE_INFINITY].map((cap) => lossOf(early, cap).toFixed(1))
  return early.db === null ? '' : `${capped} (${raw}) dB behind ${early.finalDb.toFixed(1)}`
}

function summaryOf(cases: readonly AnytimeCase[]): string {
  const rows = [['read', 'cases', 'median loss', 'worst loss', 'within 3 dB', 'told by its interval']]
  for (const [i, mark] of MARKS.entries()) {
    const there = cases.flatMap(({ early }) => early[i] ?? [])
    const [capped, raw] = [CAP_DB, Number.POSITIVE_INFINITY].map((cap) =>
      cases.map(({ early }) => (early[i] === undefined ? Number.POSITIVE_INFINITY : lossOf(early[i], cap))),
    )
    const near = (losses: readonly number[]) => losses.filter((loss) => loss <= WITHIN_DB).length
    const foretold = there.filter((e) => e.interval !== null && e.luminanceDb !== null)
    const told = foretold.filter((e) => e.luminanceDb! >= e.interval![0] && e.luminanceDb! <= e.interval![1])
    const most = Math.max(...there.map((e) => e.read))
    rows.push([
      percent(mark),
      `${there.length}`,
      `${median(capped)!.toFixed(1)} (${median(raw)!.toFixed(1)})`,
      `${worst(capped)!.toFixed(1)} (${worst(raw)!.toFixed(1)})`,
      `${near(capped)} (${near(raw)}) of ${cases.length}`,
      `${told.length} of ${foretold.length}   (read at most ${percent(most)})`,
    ])
  }
  if (cases.every(({ seconds }) => seconds.length === 0)) return aligned(rows)
  const least = (of: 'anytime' | 'plain') =>
    cases.reduce((sum, c) => sum + Math.min(...c.seconds.map((s) => s[of])), 0)
  const [anytime, plain] = [least('anytime'), least('plain')]
  return `${aligned(rows)}
cost: ${(100 * (anytime / plain - 1)).toFixed(1)} % (${anytime.toFixed(1)} s over ${plain.toFixed(1)} s of processor, the least of each case's rounds)`
}

function percent(share: number): string {
  return `${(100 * share).toFixed(0)} %`
}
