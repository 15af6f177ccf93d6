// One candidate: its pictures, its reason, its numbers, its course over the range.

import type { WholeFinish } from '../../repair/finish/finish.js'
import { FRAME_MEASURE_KEYS, type FrameMeasureKey, measureOf } from '../../search/measures.js'
import type { Candidate, Result } from '../../search/result.js'
import { DIFFERENCE_GAIN } from '../data/difference.js'
import { fieldWords } from '../data/field-words.js'
import { finishLabel, finishWords } from '../data/finish-words.js'
import { figures, measures, scoreFigures, standing } from '../data/measures.js'
import { capital, count, frameSpan, idInWords, inWords, offsetSpan, VERDICT_MARK } from '../data/words.js'
import { zoomAndRoll } from '../data/zoom-roll.js'
import { Bar, STANDING_WORDS } from './bar.js'
import { Decide } from './decide.js'
import { DepthPlot, MomentNumbers, MomentPictures } from './moment.js'
import { Legend, Picture, pictureClass, Target } from './picture.js'
import { PieceMap } from './pieces.js'
import { Plot } from './plot.js'
import { Scrolls } from './scrolls.js'
import { rowId, type Shown, type ShownRow } from './shown.js'

export function Row({ row, shown }: { row: ShownRow; shown: Shown }) {
  const { candidate, rank } = row
  const id = rowId(candidate)
  const decision = shown.decisions?.decisions.find((each) => each.candidate === candidate.id)
  const name = `${rank}, ${inWords(candidate)}`
  return (
    <article
      class="row"
      id={id}
      aria-labelledby={`${id}-name`}
      tabIndex={-1}
      data-decision={decision?.decision}
    >
      <PaperHead result={shown.result} />
      <header class="row-head">
        <h3 id={`${id}-name`}>
          <span class="rank">{rank}</span> {capital(candidate.kind)}: {inWords(candidate)}
        </h3>
        <p class="row-verdict">
          <span class="verdict">
            <span aria-hidden="true">{VERDICT_MARK[candidate.verdict]}</span> {candidate.verdict}
          </span>
          <span class="score">score {scoreFigures(candidate.score)}</span>
          <span>
            --pick <code>{candidate.id}</code>
          </span>
          {candidate.asked ? <span class="asked">asked for</span> : null}
          <span class="donor-plate">{shown.result.donors[candidate.donor]?.plate}</span>
        </p>
        <button
          type="button"
          class="look scripted-only"
          data-part="look"
          aria-label={`Look closer at ${name}`}
        >
          Look closer
        </button>
      </header>
      {candidate.moment ? <MomentPictures row={row} moment={candidate.moment} /> : <Pictures row={row} />}
      <PieceMap row={row} result={shown.result} />
      <Decide id={id} name={name} decision={decision} />
      <div class="judged">
        <p class="why">{candidate.why}</p>
        <div class="evidence">
          <Numbers candidate={candidate} result={shown.result} finish={row.finish} />
          <Plots candidate={candidate} />
        </div>
      </div>
      <Folded name={name} candidate={candidate} result={shown.result} />
    </article>
  )
}

/** On paper every page stands alone, so each says what it belongs to. */
function PaperHead({ result: { target, region, warnings } }: { result: Result }) {
  const [x, y, w, h] = region.box
  return (
    <div class="paper-head">
      <p>
        {target.plate}, {frameSpan(target.first, target.last)}, region {w} × {h} px at {x}, {y},{' '}
        {target.encoding}
      </p>
      {warnings.map((warning) => (
        <p>Warning: {warning}</p>
      ))}
    </div>
  )
}

function Pictures({ row }: { row: ShownRow }) {
  const { candidate, rect } = row
  const match = candidate.frames[row.shown]
  const seam = match.seam === null ? 'no seam number' : `seam ${figures('seam', match.seam)}`
  const at = `on frame ${match.target}`
  return (
    <div class={pictureClass(rect)}>
      <Target row={row} />
      <figure data-view="repaired">
        <Picture uri={row.repaired} rect={rect} alt={`Repaired ${at}: ${candidate.verdict}, ${seam}`} />
        <figcaption>repaired{candidate.frames.length > 1 ? ', weakest of the range' : ''}</figcaption>
      </figure>
      <figure data-view="lent">
        <Picture
          uri={row.donor}
          rect={rect}
          alt={`${match.pieces ? 'The pieces' : `Donor frame ${match.donor}`} moved onto the target, clean ${figures('clean', match.clean)}`}
        />
        <figcaption>
          {match.pieces ? (
            'donors, moved'
          ) : (
            <>
              donor <b>{match.donor}</b>, moved
            </>
          )}
        </figcaption>
      </figure>
      <figure data-view="difference">
        <Picture
          uri={row.difference}
          rect={rect}
          alt={`Difference times ${DIFFERENCE_GAIN} ${at}, ${seam}; mid grey is no difference`}
        />
        <figcaption>
          difference ×{DIFFERENCE_GAIN} <Legend />
        </figcaption>
      </figure>
    </div>
  )
}

function Numbers(props: { candidate: Candidate; result: Result; finish: WholeFinish | null }) {
  const { candidate, result, finish } = props
  const more = zoomAndRoll(candidate, result)
  const uneven = fieldWords(candidate, result.region)
  return (
    <table class="numbers">
      <caption>Numbers over the range</caption>
      <thead>
        <tr>
          <th scope="col">measure</th>
          <th scope="col">value</th>
          <th scope="col">against its limits</th>
        </tr>
      </thead>
      <tbody>
        {measures().map(({ key, label, meaning }) => {
          const at = standing(key, candidate[key], candidate.kind)
          return (
            <tr class={at}>
              <th scope="row" title={meaning}>
                {label}
              </th>
              <td class="figure" title={key === 'expected' ? likely(candidate.interval) : undefined}>
                {figures(key, candidate[key])}
              </td>
              <td>
                <Bar measure={key} value={candidate[key]} kind={candidate.kind} />
                {at === 'holds' || at === 'absent' ? null : (
                  <span class="standing">{STANDING_WORDS[at]}</span>
                )}
              </td>
            </tr>
          )
        })}
        {candidate.moment ? <MomentNumbers moment={candidate.moment} /> : null}
        {(['dx', 'dy'] as const).map((axis) => (
          <tr>
            <th scope="row" title="2D offset that moves the donor onto the target">
              {axis}
            </th>
            <td class="figure" colSpan={2}>
              {offsetSpan(candidate.frames.map((f) => f[axis]))} px
            </td>
          </tr>
        ))}
        {more === null ? null : <ZoomAndRoll {...more} />}
        {uneven === null ? null : (
          <tr>
            <th scope="row" title="how much the light that is matched differs over the region">
              uneven light
            </th>
            <td class="figure" colSpan={2}>
              {uneven}
            </td>
          </tr>
        )}
        {finish === null ? null : <FinishNumbers finish={finish} />}
      </tbody>
    </table>
  )
}

/** The repaired frames beside the plate. */
function FinishNumbers({ finish }: { finish: WholeFinish }) {
  if (finish.noise === null && finish.unmeasured !== null)
    return (
      <tr>
        <th scope="row">noise, flicker</th>
        <td colSpan={2}>not measured: {finish.unmeasured}</td>
      </tr>
    )
  return (
    <>
      {(['noise', 'spectrum', 'flicker'] as const).map((key) => {
        const { label, meaning, meant } = finishLabel(key)
        const { figures: text, holds } = finishWords(key, finish[key])
        return (
          <tr class={holds ? 'holds' : 'works'}>
            <th scope="row" title={`${meaning}; ${meant} is meant`}>
              {label}
            </th>
            <td class="figure" colSpan={2}>
              {text}
              {holds ? null : <span class="standing"> {STANDING_WORDS.works}</span>}
            </td>
          </tr>
        )
      })}
    </>
  )
}

function ZoomAndRoll({ zoom, roll }: { zoom: string; roll: string }) {
  return (
    <>
      <tr>
        <th scope="row" title="how much larger the donor is made to lie on the target">
          zoom
        </th>
        <td class="figure" colSpan={2}>
          {zoom}
        </td>
      </tr>
      <tr>
        <th scope="row" title="how far the donor is turned to lie on the target, clockwise">
          roll
        </th>
        <td class="figure" colSpan={2}>
          {roll}
        </td>
      </tr>
    </>
  )
}

function Plots({ candidate }: { candidate: Candidate }) {
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
  const { label, limits, bounds, perFrame } = measureOf(measure)
  if (perFrame?.plot === undefined) return null
  return (
    <Plot
      frames={candidate.frames.map((f) => f.target)}
      title={label}
      {...perFrame.plot}
      most={bounds[1]}
      limit={limits}
      lines={[{ name: label, values: candidate.frames.map((f) => f[measure]) }]}
    />
  )
}

function Folded(props: { name: string; candidate: Candidate; result: Result }) {
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
            <td>{f.donor}</td>
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

/** Where what is expected lies. */
function likely(interval: Candidate['interval']): string | undefined {
  if (!interval) return undefined
  return `between ${interval[0].toFixed(0)} and ${interval[1].toFixed(0)} dB with nine chances in ten`
}
