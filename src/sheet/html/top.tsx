// How it went, what was asked, what was assumed.
import type { Result } from '../../search/result.js'
import { plain } from '../data/measures.js'
import { capital, count, donorSpan, frameSpan, grownWords, outcome } from '../data/words.js'
import { CameraFigure } from './camera.js'
import { codingName } from './encode.js'
import { MatchMatrix } from './matrix.js'
import { Picture } from './picture.js'
import { InPlatePixels, useProjected } from './projected.js'
import type { Shown, ShownCrossing } from './shown.js'
import { Warnings } from './warnings.js'

/** How it went, with the match matrix beside it; what was asked and assumed is folded, so that the pictures come soon. */
export function Top({ shown }: { shown: Shown }) {
  const { result } = shown
  const { target, region } = result
  const [x, y, w, h] = region.box
  return (
    <header class="top">
      <div class="said">
        <p class="plate">{target.plate}</p>
        <h1>{outcome(result)}</h1>
        <p>
          {capital(result.aim)}, {frameSpan(target.first, target.last)};{' '}
          {region.mask === null ? 'box' : 'mask'}, {w} × {h} px at {x}, {y}
        </p>
        <Warnings warnings={[...shown.remarks, ...result.warnings]} open={1} />
        <Crossings crossings={shown.crossings} />
      </div>
      <MatchMatrix shown={shown} />
      {/* Without pictures to come to, what was asked is what there is to check. */}
      <details class="about" open={shown.rows.length === 0}>
        <summary>Asked and assumed, and where the region lies</summary>
        <div class="about-parts">
          <Facts shown={shown} />
          <Where shown={shown} />
        </div>
      </details>
    </header>
  )
}

function Facts({ shown }: { shown: Shown }) {
  const { result } = shown
  const { target, region, donors } = result
  const [x, y, w, h] = region.box
  return (
    <div class="facts">
      <section aria-labelledby="asked">
        <h2 id="asked">Asked</h2>
        <dl>
          <dt>Aim</dt>
          <dd>{result.aim === 'hide' ? 'hide what is in the region' : 'borrow a shadow or a reflection'}</dd>
          <dt>Frames</dt>
          <dd>
            {target.frames.length === 1
              ? target.first
              : `${target.first} to ${target.last}, ${count(target.frames.length, 'frame')}`}
          </dd>
          <dt>Region</dt>
          <dd>
            {region.mask === null ? 'box' : region.mask}, {w} × {h} px at {x}, {y}
            {grownWords(region)}
          </dd>
          {result.borrow ? <Borrowed asked={result.borrow} /> : null}
          <dt>Donors</dt>
          <dd>
            {donors.map((donor) => (
              <span class="donor-plate">
                {donor.plate}, {donorSpan(donor)}
              </span>
            ))}
          </dd>
        </dl>
      </section>
      <section aria-labelledby="assumed">
        <h2 id="assumed">Assumed</h2>
        <dl>
          <dt>Encoding</dt>
          <dd>
            {target.encoding}: {target.encodingWhy}
          </dd>
          <dt>Reach</dt>
          <dd>2D offsets up to {result.reach} px</dd>
          <dt>Surround</dt>
          <dd>{region.surround} px round the mask</dd>
          <dt>Shown</dt>
          <dd>
            {seenAs(shown)}; frames as {codingName(shown.coding)}
            {shown.factor === 1 ? '' : `, one pixel for ${shown.factor} × ${shown.factor} of the plate`}
          </dd>
        </dl>
      </section>
    </div>
  )
}

function Where({ shown }: { shown: Shown }) {
  const { result, rows } = shown
  const { target } = result
  const best = rows[0]
  return (
    <div class="where">
      {best ? (
        <figure>
          <Picture
            uri={best.target}
            rect={best.rect}
            outline={best.outline}
            alt={`Target frame ${best.candidate.frames[best.shown].target} with the mask outlined`}
          />
          <figcaption>The mask on {best.candidate.frames[best.shown].target}</figcaption>
        </figure>
      ) : null}
      <figure>
        <PlaceInPlate result={result} />
        <figcaption>
          In the plate, {target.width} × {target.height} px
        </figcaption>
      </figure>
      <CameraFigure result={result} />
    </div>
  )
}

function Borrowed({ asked }: { asked: NonNullable<Result['borrow']> }) {
  const { peak, sign, like, lookIn, offset } = asked
  return (
    <>
      <dt>Peak</dt>
      <dd>
        on {peak}
        {sign ? `, ${sign} only` : ''}
        {like === null ? '' : `, like donor frame ${like}`}
      </dd>
      {lookIn ? (
        <>
          <dt>Looked in</dt>
          <dd>
            {lookIn[2]} × {lookIn[3]} px at {lookIn[0]}, {lookIn[1]}, carried by {plain(offset[0], 1, true)},{' '}
            {plain(offset[1], 1, true)} px
          </dd>
        </>
      ) : null}
    </>
  )
}

function seenAs({ look, exposureStops: stops }: Shown): string {
  if (look !== null) return `through the look ${look}`
  if (stops === 0) return 'as shot, for an sRGB display'
  const by = plain(Math.abs(stops), 1)
  return stops < 0
    ? `${by} stops darker than shot, so that highlights stay`
    : `${by} stops brighter than shot`
}

/** The target where something crosses the mask's edge. */
function Crossings({ crossings }: { crossings: readonly ShownCrossing[] }) {
  if (crossings.length === 0) return null
  return (
    <details>
      <summary>Where the mask cuts, {count(crossings.length, 'picture')}</summary>
      <section class="crossings" aria-label="Where the mask cuts">
        {crossings.map(({ frame, side, px, open, box, rect, outline, picture }) => {
          const what = `${open ? 'more than ' : ''}${px} px beyond the ${side} edge`
          return (
            <figure>
              <Picture
                uri={picture}
                rect={rect}
                outline={outline}
                marked={box}
                alt={`Target frame ${frame}, mask outlined: something reaches ${what}`}
              />
              <figcaption>
                target <b>{frame}</b>, {what}
              </figcaption>
            </figure>
          )
        })}
      </section>
    </details>
  )
}

/** The plate's frame with the region and its surround in it, to scale. */
function PlaceInPlate({ result }: { result: Result }) {
  const { target, region } = result
  const [x, y, w, h] = region.box
  const s = region.surround
  const whole = useProjected({ w: target.width, h: target.height })
  const alt = `The region lies ${w} by ${h} pixels large at ${x}, ${y} in a frame of ${target.width} by ${target.height}`
  return (
    <svg class="place" viewBox={`0 0 ${whole.w} ${whole.h}`} role="img" aria-label={alt}>
      <InPlatePixels>
        <rect class="place-plate" width={target.width} height={target.height} />
        <rect class="place-surround" x={x - s} y={y - s} width={w + 2 * s} height={h + 2 * s} />
        <rect class="place-region" x={x} y={y} width={w} height={h} />
      </InPlatePixels>
    </svg>
  )
}
