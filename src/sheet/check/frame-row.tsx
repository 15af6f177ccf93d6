// One frame of a patch: target, patch, result and difference, and what lends to it.

import type { Rect } from '../../raster/rect.js'
import type { Patch, PatchFrame } from '../../repair/hand-over/patch.js'
import { DIFFERENCE_GAIN } from '../data/difference.js'
import { plain } from '../data/measures.js'
import { count } from '../data/words.js'
import { Legend, Picture, Pictures } from '../html/picture.js'

/** One frame's pictures, data URIs. */
export interface CheckedFrame {
  readonly frame: PatchFrame
  readonly outline: string
  readonly target: string
  /** Null for whole frames. */
  readonly laid: string | null
  readonly result: string
  readonly difference: string
}

export function FrameRow({ each, patch, rect }: { each: CheckedFrame; patch: Patch; rect: Rect }) {
  const { frame, outline } = each
  const name = `frame-${frame.target}`
  const at = { ...rect, x: 0, y: 0 }
  const laid = patch.what === 'ratio' ? 'ratio' : 'patch over grey'
  return (
    <article aria-labelledby={name}>
      <div class="frame-head">
        <h3 id={name}>{frame.target}</h3>
        <p class="note">{lentBy(frame)}</p>
        {frame.check === undefined ? null : <p class="note">{lookInWords(frame.check)}</p>}
        <button
          type="button"
          class="scripted-only"
          data-flip
          aria-pressed="false"
          aria-label={`Flip ${frame.target}`}
        >
          Flip
        </button>
      </div>
      <Pictures rect={rect}>
        <figure data-shows="target">
          <Picture
            uri={each.target}
            rect={at}
            outline={outline}
            alt={`Target frame ${frame.target}, mask outlined`}
          />
          <figcaption>target</figcaption>
        </figure>
        {each.laid === null ? null : (
          <figure>
            <Picture uri={each.laid} rect={at} alt={`The ${laid} for frame ${frame.target}`} />
            <figcaption>{laid}</figcaption>
          </figure>
        )}
        <figure data-shows="result">
          <Picture uri={each.result} rect={at} alt={`Result on frame ${frame.target}`} />
          <figcaption data-name>result</figcaption>
        </figure>
        <figure>
          <Picture
            uri={each.difference}
            rect={at}
            alt={`Difference times ${DIFFERENCE_GAIN} of result and target on frame ${frame.target}`}
          />
          <figcaption>
            difference ×{DIFFERENCE_GAIN} <Legend />
          </figcaption>
        </figure>
      </Pictures>
    </article>
  )
}

function lentBy({ lent }: PatchFrame): string {
  if (lent.length === 0) return 'mask black: left as it is'
  const [most] = lent
  const others = lent.length > 1 ? `, and ${count(lent.length - 1, 'other')}` : ''
  return `from ${most.frame}${others}, ${plain(most.timeOffset, 0, true)} frames`
}

/** What the frame looks like beside the plate, as far as anything tells. */
function lookInWords({ seam, flicker, noise }: NonNullable<PatchFrame['check']>): string {
  const said = [
    ...(seam === null ? [] : [`seam ${plain(seam, 2)}`]),
    ...(flicker === null ? [] : [`flicker ${plain(flicker, 2)}`]),
    ...(noise === null ? [] : [`noise ${noise.map((v) => plain(v, 2)).join(' ')}`]),
  ]
  return said.length === 0 ? 'nothing to measure it by' : said.join(', ')
}
