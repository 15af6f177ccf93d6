// The match matrix: target frames down, donor frames across, each candidate on it as the line it is.
import type { Candidate, Result } from '../../search/result.js'
import { keyOf } from '../../shot/frame-key.js'
import { count, inWords } from '../data/words.js'
import { rowId, type Shown } from './shown.js'

type Matrix = NonNullable<Result['matrix']>

/** Rank labels closer than this share of the width would overprint; the better candidate keeps its own. */
const LABEL_ROOM = 0.022

export function MatchMatrix({ shown }: { shown: Shown }) {
  const { matrix } = shown.result
  if (!matrix || shown.matrix === null || matrix.donors.length === 0) return null
  const across = matrix.donors.length
  const down = matrix.targets.length
  const lines = shown.rows
    .map(({ candidate, rank }) => ({ candidate, rank, points: linePoints(candidate, matrix) }))
    .filter(({ points }) => points.length > 0)
  const first = matrix.donors[0]
  const last = matrix.donors[across - 1]
  return (
    <section class="matrix" aria-labelledby="matrix-name">
      <h2 id="matrix-name">Match matrix</h2>
      <p class="note">
        Target frames down, donor frames across; the lighter a cell, the better that donor fits. A line is a
        candidate.
      </p>
      <section
        class="matrix-frame"
        id="matrix-frame"
        aria-label="Match matrix, cell by cell with the arrow keys"
        data-donors={JSON.stringify(donorRuns(matrix))}
        data-targets={JSON.stringify(matrix.targets)}
      >
        <RankLabels lines={lines} across={across} />
        <nav
          aria-label={`Match matrix, ${count(down, 'target frame')} by ${count(across, 'donor frame')}, with ${count(lines.length, 'candidate')} drawn on it`}
        >
          {/* biome-ignore lint/a11y/noSvgWithoutTitle: a title would pop up over the cells; the nav and each line are named */}
          <svg
            class={`matrix-picture ${down > 60 ? 'matrix-tall' : down < 8 ? 'matrix-low' : ''}`}
            viewBox={`0 0 ${across} ${down}`}
            preserveAspectRatio="none"
          >
            <image href={shown.matrix} width={across} height={down} preserveAspectRatio="none" />
            {plateBreaks(matrix).map((at) => (
              <path class="matrix-break" d={`M${at} 0V${down}`} />
            ))}
            <path class="matrix-cursor" />
            {/* Where lines cross or lie on each other the best is on top, and takes the click. */}
            {/* biome-ignore lint/a11y/noAriaHiddenOnFocusable: nothing in it takes the focus by key, and the links below are its twins */}
            <g aria-hidden="true">
              {[...lines].reverse().map(({ candidate, points }) => (
                <a href={`#${rowId(candidate)}`} tabIndex={-1}>
                  <path class="line-reach" d={lineData(points)} />
                  <path class="line-under" d={lineData(points)} />
                  <path class="line" d={lineData(points)} />
                </a>
              ))}
            </g>
            {/* By key they are gone through from the best on; the one in focus shows, over all others. */}
            {lines.map(({ candidate, rank, points }) => (
              <a
                class="line-by-key"
                href={`#${rowId(candidate)}`}
                aria-label={`${rank}: ${candidate.kind}, ${inWords(candidate)}`}
              >
                <path class="line-under" d={lineData(points)} />
                <path class="line" d={lineData(points)} />
              </a>
            ))}
          </svg>
        </nav>
        <p class="matrix-across">
          <span>{first.frame}</span>
          <span class="matrix-donor-name">donor frames</span>
          <span>{last.frame}</span>
        </p>
        <p class="matrix-down">
          <span>
            target {matrix.targets[0]} at the top, {matrix.targets[down - 1]} at the bottom
          </span>
          <output id="matrix-readout" class="scripted-only" />
        </p>
      </section>
    </section>
  )
}

interface LineShown {
  readonly candidate: Candidate
  readonly rank: number
  readonly points: readonly (readonly [number, number])[]
}

function RankLabels({ lines, across }: { lines: readonly LineShown[]; across: number }) {
  const taken: number[] = []
  const kept = lines.flatMap(({ rank, points }) => {
    const share = points[0][0] / across
    if (taken.some((other) => Math.abs(other - share) < LABEL_ROOM)) return []
    taken.push(share)
    return [{ rank, share }]
  })
  return (
    <svg class="matrix-ranks" aria-hidden="true">
      {kept.map(({ rank, share }) => (
        <text x={`${(100 * share).toFixed(2)}%`} y="14" text-anchor="middle">
          {rank}
        </text>
      ))}
    </svg>
  )
}

/** Cell centres that a candidate passes through; frames that the matrix does not have are left out. */
function linePoints(candidate: Candidate, matrix: Matrix): [number, number][] {
  const column = new Map(matrix.donors.map((donor, i) => [keyOf(donor), i]))
  const line = new Map(matrix.targets.map((frame, i) => [frame, i]))
  return candidate.frames.flatMap((f): [number, number][] => {
    const x = column.get(keyOf({ plate: f.plate, frame: f.donor }))
    const y = line.get(f.target)
    return x === undefined || y === undefined ? [] : [[x + 0.5, y + 0.5]]
  })
}

/** Through the centres, drawn out to the upper edge of the first cell and the lower one of the last. */
function lineData(points: readonly (readonly [number, number])[]): string {
  const [x0, y0] = points[0]
  const [x1, y1] = points[points.length - 1]
  const middle = points.map(([x, y]) => `L${x} ${y}`).join('')
  return `M${x0} ${y0 - 0.5}${middle}L${x1} ${y1 + 0.5}`
}

/** The columns as runs of consecutive frames: index of the plate, first frame, how many. */
function donorRuns({ donors }: Matrix): [number, number, number][] {
  const runs: [number, number, number][] = []
  for (const { plate, frame } of donors) {
    const run = runs[runs.length - 1]
    if (run && run[0] === plate && run[1] + run[2] === frame) run[2]++
    else runs.push([plate, frame, 1])
  }
  return runs
}

function plateBreaks({ donors }: Matrix): number[] {
  return donors.flatMap((donor, i) => (i > 0 && donor.plate !== donors[i - 1].plate ? [i] : []))
}
