// A measure over the range of frames, as plain SVG.
import type { Limit } from '../../search/measures.js'

const WIDTH = 300
const HEIGHT = 84
const LEFT = 46
const BOTTOM = 16
const TOP = 8
/** How lines are told apart, as rows.css draws them: their names stand where no line crosses them. */
const DRAWN = ['solid', 'dashed'] as const
export interface Line {
  readonly name: string
  readonly values: readonly (number | null)[]
}

export function Plot({
  title,
  least,
  most = Infinity,
  frames,
  lines,
  digits,
  limit,
  stretch,
  mark,
}: {
  title: string
  /** the plot is never stretched so far that less than this fills it, as grain would look like drift */
  least: number
  /** the most that there can be */
  most?: number
  frames: readonly number[]
  lines: readonly Line[]
  digits: number
  limit?: Limit
  /** frames set off from the others, with a name */
  stretch?: { readonly from: number; readonly to: number; readonly name: string }
  /** a frame that matters */
  mark?: number
}) {
  const known = lines.flatMap((line) => line.values.filter((v) => v !== null))
  if (known.length === 0) return <p class="no-plot">{title}: no numbers</p>
  const { low, high } = span(known, least, most)
  const first = frames[0]
  const last = frames[frames.length - 1]
  const x = (frame: number) =>
    last === first ? (LEFT + WIDTH) / 2 : LEFT + ((frame - first) / (last - first)) * (WIDTH - LEFT - 4)
  const y = (v: number) => TOP + ((high - v) / (high - low)) * (HEIGHT - TOP - BOTTOM)
  const worded = lines.map((line) => `${line.name} ${wordedSpan(line.values, frames, digits)}`).join('; ')
  const holds = limit && {
    top: y(Math.min(high, limit.holds[1])),
    bottom: y(Math.max(low, limit.holds[0])),
  }
  return (
    <figure class="plot">
      <figcaption>
        {title}
        {lines.length > 1 ? `: ${lines.map(({ name }, i) => `${name} ${DRAWN[i]}`).join(', ')}` : ''}
        {stretch ? `; shaded: what lands on ${stretch.name}` : ''}
      </figcaption>
      <svg
        viewBox={`0 0 ${WIDTH} ${HEIGHT}`}
        preserveAspectRatio="xMinYMid"
        role="img"
        aria-label={`${worded}, over frames ${first} to ${last}${stretch ? `; ${stretch.from} to ${stretch.to} land on ${stretch.name}` : ''}`}
      >
        {holds && holds.bottom > holds.top ? (
          <rect
            class="plot-holds"
            x={LEFT}
            y={holds.top}
            width={WIDTH - LEFT}
            height={holds.bottom - holds.top}
          />
        ) : null}
        {stretch ? (
          <rect
            class="plot-stretch"
            x={x(stretch.from)}
            y={TOP}
            width={Math.max(2, x(stretch.to) - x(stretch.from))}
            height={HEIGHT - TOP - BOTTOM}
          />
        ) : null}
        {mark === undefined ? null : <path class="plot-mark" d={`M${x(mark)} ${TOP}V${HEIGHT - BOTTOM}`} />}
        <path class="plot-axis" d={`M${LEFT} ${TOP}V${HEIGHT - BOTTOM}H${WIDTH}`} />
        <text x={LEFT - 6} y={TOP + 8} text-anchor="end">
          {figure(high, digits)}
        </text>
        <text x={LEFT - 6} y={HEIGHT - BOTTOM} text-anchor="end">
          {figure(low, digits)}
        </text>
        <text x={LEFT} y={HEIGHT - 2}>
          {first}
        </text>
        {last === first ? null : (
          <text x={WIDTH} y={HEIGHT - 2} text-anchor="end">
            {last}
          </text>
        )}
        {lines.map((line, i) => (
          <path
            class={i === 0 ? 'plot-line' : 'plot-line plot-line-second'}
            d={stroke(line.values, frames, x, y)}
          />
        ))}
      </svg>
    </figure>
  )
}

/** The values' span, widened evenly to `least` unless that would go beyond what there can be. */
function span(values: readonly number[], least: number, most: number): { low: number; high: number } {
  const low = Math.min(...values)
  const high = Math.max(...values)
  const room = Math.max(0, least - (high - low)) / 2
  const up = Math.min(room, Math.max(0, most - high))
  return { low: low - (2 * room - up), high: high + up }
}

/** Path data through the known values, broken where there is none; a lone value becomes a dot. */
function stroke(
  values: readonly (number | null)[],
  frames: readonly number[],
  x: (frame: number) => number,
  y: (v: number) => number,
): string {
  let pen = false
  return values
    .map((value, i) => {
      if (value === null) {
        pen = false
        return ''
      }
      const point = `${x(frames[i]).toFixed(1)} ${y(value).toFixed(1)}`
      const lone = !pen && (values[i + 1] ?? null) === null
      const command = pen ? `L${point}` : `M${point}${lone ? 'h0.01' : ''}`
      pen = true
      return command
    })
    .join('')
}

function figure(value: number, digits: number): string {
  const text = Math.abs(value).toFixed(digits)
  return value < 0 && Number(text) !== 0 ? `−${text}` : text
}

function wordedSpan(values: readonly (number | null)[], frames: readonly number[], digits: number): string {
  let least = -1
  let most = -1
  for (const [i, value] of values.entries()) {
    if (value === null) continue
    if (least < 0 || value < values[least]!) least = i
    if (most < 0 || value > values[most]!) most = i
  }
  if (least < 0) return 'has no numbers'
  const low = figure(values[least]!, digits)
  const high = figure(values[most]!, digits)
  return low === high
    ? `is ${low} throughout`
    : `from ${low} on ${frames[least]} to ${high} on ${frames[most]}`
}
