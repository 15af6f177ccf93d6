// One candidate: its verdict and why, its pictures, and below them its numbers and its course.

import { faultsOf } from '../../repair/finish/words.js'
import type { Result } from '../../search/result.js'
import { DIFFERENCE_GAIN } from '../data/difference.js'
import { figures, scoreFigures } from '../data/measures.js'
import { withMinus } from '../data/minus.js'
import { capital, frameSpan, inWords, VERDICT_MARK } from '../data/words.js'
import { Folded, Plots } from './course.js'
import { Decide } from './decide.js'
import { MomentPictures } from './moment.js'
import { Numbers } from './numbers.js'
import { Legend, Picture, Pictures, Target } from './picture.js'
import { PieceMap } from './pieces.js'
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
          {shown.result.donors.length > 1 ? (
            <span class="donor-plate">{shown.result.donors[candidate.donor]?.plate}</span>
          ) : null}
        </p>
        <p class="why">{withMinus(candidate.why)}</p>
        <Faults row={row} />
        <button
          type="button"
          class="look scripted-only"
          data-part="look"
          aria-label={`Look closer at ${name}`}
        >
          Look closer
        </button>
      </header>
      {candidate.moment ? <MomentPictures row={row} moment={candidate.moment} /> : <RowPictures row={row} />}
      <PieceMap row={row} result={shown.result} />
      <Decide id={id} name={name} decision={decision} />
      <div class="judged">
        <div class="evidence">
          <Numbers candidate={candidate} result={shown.result} finish={row.finish} />
          <Plots candidate={candidate} />
        </div>
      </div>
      <Folded name={name} candidate={candidate} result={shown.result} />
    </article>
  )
}

/** What its patch will be warned of, whatever the verdict: it was judged by its donors, and this by the repaired frames. */
function Faults({ row: { finish } }: { row: ShownRow }) {
  const faults = finish === null ? [] : faultsOf(finish)
  return faults.length === 0 ? null : <p class="faults">As repaired, it {faults.join('; it ')}</p>
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
        <p>Warning: {withMinus(warning)}</p>
      ))}
    </div>
  )
}

function RowPictures({ row }: { row: ShownRow }) {
  const { candidate, rect } = row
  const match = candidate.frames[row.shown]
  const seam = match.seam === null ? 'no seam number' : `seam ${figures('seam', match.seam)}`
  const at = `on frame ${match.target}`
  return (
    <Pictures rect={rect}>
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
    </Pictures>
  )
}
