// `npm run eval:anytime -- <plate> [...]`: how soon a search has something to show, and what telling it costs.
import { basename } from 'node:path'
import { parseArgs } from 'node:util'
import { misuse } from '../../src/errors.js'
import { type AnytimeCase, anytimeCase, type Early } from './anytime.js'
import { VARIANTS, type Variant } from './motion.js'
import { prepare } from './prepare.js'
import { median } from './statistics.js'

const HELP = `npm run eval:anytime -- <plate> [...] [--variant plain,sway] [--windows 4] [--rounds 2] [--seed 1]
  Rankings on the way against the last one, by planted truth: dB inside that the first candidate loses against the final
  one over the same target frames, after a tenth, a quarter and half of the frames; and the processor time of a search that tells them
  over one that does not. Wanted: within 3 dB at the median after a tenth, in nine of ten after a quarter; at most 5 % of the time.`

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

/** What the first candidate loses; nothing was there: all of it. */
function lossOf({ db, finalDb }: Early): number {
  return db === null ? Number.POSITIVE_INFINITY : finalDb - db
}

function lossWords(early: Early): string {
  const loss = lossOf(early)
  return Number.isFinite(loss) ? `${loss.toFixed(1)} dB behind ${early.finalDb.toFixed(1)}` : ''
}

function summaryOf(cases: readonly AnytimeCase[]): string {
  const lines = ['read   cases  median loss  worst loss  within 3 dB  told by its interval']
  for (const [i, mark] of MARKS.entries()) {
    const there = cases.flatMap(({ early }) => early[i] ?? [])
    const losses = cases.map(({ early }) =>
      early[i] === undefined ? Number.POSITIVE_INFINITY : lossOf(early[i]),
    )
    const near = losses.filter((loss) => loss <= WITHIN_DB).length
    const foretold = there.filter((e) => e.interval !== null && e.luminanceDb !== null)
    const told = foretold.filter((e) => e.luminanceDb! >= e.interval![0] && e.luminanceDb! <= e.interval![1])
    const most = Math.max(...there.map((e) => e.read))
    lines.push(
      [
        percent(mark).padEnd(6),
        `${there.length}`.padEnd(6),
        median(losses)!.toFixed(1).padEnd(12),
        Math.max(...losses)
          .toFixed(1)
          .padEnd(11),
        `${near} of ${losses.length}`.padEnd(12),
        `${told.length} of ${foretold.length}   (read at most ${percent(most)})`,
      ].join(' '),
    )
  }
  const least = (of: 'anytime' | 'plain') =>
    cases.reduce((sum, c) => sum + Math.min(...c.seconds.map((s) => s[of])), 0)
  const [anytime, plain] = [least('anytime'), least('plain')]
  lines.push(
    `cost: ${(100 * (anytime / plain - 1)).toFixed(1)} % (${anytime.toFixed(1)} s over ${plain.toFixed(1)} s of processor, the least of each case's rounds)`,
  )
  return lines.join('\n')
}

function percent(share: number): string {
  return `${(100 * share).toFixed(0)} %`
}
