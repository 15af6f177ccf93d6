// One candidate's course over the range: plots, near-equals, and every frame in figures.

import { FRAME_MEASURE_KEYS, type FrameMeasureKey, limitsOf, measureOf } from '../../search/measures.js'
import type { Candidate, Result } from '../../search/result.js'
import { figures, scoreFigures } from '../data/measures.js'
import { capital, count, idInWords, offsetSpan } from '../data/words.js'
import { DepthPlot } from './moment.js'
import { Plot } from './plot.js'
import { Scrolls } from './scrolls.js'

export function Plots({ candidate }: { candidate: Candidate }) {
  const { frames } = candidate
  if (frames.length < 2) return null
  return (
    <div class="plots">
      {candidate.moment ? <DepthPlot candidate={candidate} moment={candidate.moment} /> : null}
      {FRAME_MEASURE_KEYS.map((key) => (
        <MeasurePlot measure={key} candidate={candidate} />
      ))}
      <Plot
        frames={frames.map((f) => f.target)}
        title="2D offset, px"
        least={0.5}
        digits={2}
        lines={[
          { name: 'dx', values: frames.map((f) => f.dx) },
          { name: 'dy', values: frames.map((f) => f.dy) },
        ]}
      />
    </div>
  )
}

function MeasurePlot({ measure, candidate }: { measure: FrameMeasureKey; candidate: Candidate }) {
  const { label, bounds, perFrame } = measureOf(measure)
  if (perFrame?.plot === undefined) return null
  return (
    <Plot
      frames={candidate.frames.map((f) => f.target)}
      title={label}
      {...perFrame.plot}
      most={bounds[1]}
      limit={limitsOf(measure, candidate)}
      lines={[{ name: label, values: candidate.frames.map((f) => f[measure]) }]}
    />
  )
}

export function Folded(props: { name: string; candidate: Candidate; result: Result }) {
  const { name, candidate, result } = props
  const alternatives = candidate.alternatives ?? []
  return (
    <div class="folded">
      {alternatives.length > 0 ? (
        <details>
          <summary>{count(alternatives.length, 'near-equal')}</summary>
          <ul>
            {alternatives.map(({ id, score }) => (
              <li>
                {capital(idInWords(id, result))}, score {scoreFigures(score)}, --pick <code>{id}</code>
              </li>
            ))}
          </ul>
        </details>
      ) : null}
      <details>
        <summary>Frame by frame</summary>
        <Scrolls name={`Frame by frame, ${name}`}>
          <FrameTable candidate={candidate} result={result} />
        </Scrolls>
      </details>
    </div>
  )
}

/** The light first, as it says what was done to the donor; then how well that fits. */
const LISTED = FRAME_MEASURE_KEYS.filter((key) => measureOf(key).perFrame?.listed).sort(
  (a, b) => Number(b === 'stops') - Number(a === 'stops'),
)

function FrameTable({ candidate, result }: { candidate: Candidate; result: Result }) {
  const several = new Set(candidate.frames.map((f) => f.plate)).size > 1
  return (
    <table class="frames">
      <thead>
        <tr>
          <th scope="col">target</th>
          <th scope="col">donor</th>
          {several ? <th scope="col">plate</th> : null}
          {['dx', 'dy', ...LISTED.map((key) => measureOf(key).label)].map((name) => (
            <th scope="col">{name}</th>
          ))}
        </tr>
      </thead>
      <tbody>
        {candidate.frames.map((f) => (
          <tr>
            <th scope="row">{f.target}</th>
            <td>
              {candidate.kind === 'relay' && f.stack ? f.stack.map((s) => s.frame).join(' + ') : f.donor}
            </td>
            {several ? <td>{result.donors[f.plate]?.plate}</td> : null}
            <td>{offsetSpan([f.dx])}</td>
            <td>{offsetSpan([f.dy])}</td>
            {LISTED.map((key) => (
              <td>{figures(key, f[key])}</td>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  )
}
