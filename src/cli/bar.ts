// Progress on stderr: a bar with a rate and a time left on a terminal, a plain line per phase elsewhere.
import { printable } from '../errors.js'
import type { OnProgress, Progress } from '../progress.js'

const WIDTH = 24
/** A terminal is redrawn at most this often, milliseconds. */
const REDRAW_MS = 100

/** A stream of the process. */
export interface Terminal {
  readonly isTTY?: boolean
  readonly columns?: number
  write(text: string): unknown
}

export interface ProgressBar {
  readonly report: OnProgress
  /** Takes the bar off the terminal, so that text can follow. */
  clear(): void
}

export function progressBar(
  terminal: Terminal,
  now: () => number = performance.now.bind(performance),
): ProgressBar {
  let phase = ''
  let started = 0
  let drawn = Number.NEGATIVE_INFINITY
  const live = terminal.isTTY === true
  const clear = () => {
    if (live && drawn > Number.NEGATIVE_INFINITY) terminal.write('\r\u001b[K')
    drawn = Number.NEGATIVE_INFINITY
  }
  const report = (p: Progress) => {
    const time = now()
    if (p.phase !== phase) {
      clear()
      phase = p.phase
      started = time
      if (!live) terminal.write(`${plainText(p)}\n`)
    }
    if (!live || (time - drawn < REDRAW_MS && p.done < p.total)) return
    drawn = time
    terminal.write(`\r\u001b[K${barText(p, (time - started) / 1000, terminal.columns ?? 80)}`)
  }
  return { report, clear }
}

/** What a phase counts; its last word may say it. */
const UNITS = ['frames', 'candidates']

/** `reading: 120 frames`; a phase that says what it counts has the number alone: `drawing candidates: 12` */
function plainText({ phase, total }: Progress): string {
  const isSaid = UNITS.some((unit) => phase.endsWith(` ${unit}`))
  return `${printable(phase)}: ${total}${isSaid ? '' : total === 1 ? ' frame' : ' frames'}`
}

/** `reading   [########        ] 120/480  34 frames/s  11 s left` */
export function barText({ phase, done, total }: Progress, seconds: number, columns: number): string {
  const share = total > 0 ? done / total : 1
  const filled = Math.round(WIDTH * share)
  const bar = '#'.repeat(filled) + '.'.repeat(WIDTH - filled)
  const unit = UNITS.find((each) => phase.endsWith(each)) ?? 'frames'
  const rate = seconds > 0.3 && done > 1 ? done / seconds : null
  const left = rate === null ? null : Math.ceil((total - done) / rate)
  const parts = [`${printable(phase).padEnd(10)} [${bar}] ${done}/${total}`]
  if (rate !== null) parts.push(`${rate < 10 ? rate.toFixed(1) : Math.round(rate)} ${unit}/s`)
  if (left !== null && left > 0) parts.push(left < 90 ? `${left} s left` : `${Math.ceil(left / 60)} min left`)
  return parts.join('  ').slice(0, Math.max(20, columns - 1))
}
