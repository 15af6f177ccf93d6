// The check of a patch as one page: warnings, the frame with its region, every frame before and after, the numbers.
import { renderToString } from 'preact-render-to-string'
import type { Rect } from '../../raster/rect.js'
import type { Patch, PatchFrame } from '../../repair/hand-over/patch.js'
import { finishLabel, finishWords } from '../data/finish-words.js'
import { plain } from '../data/measures.js'
import { count } from '../data/words.js'
import type { PageAssets } from '../html/assets.js'
import { Legend, Picture, pictureClass } from '../html/picture.js'
import { policy } from '../html/policy.js'
import { Scrolls } from '../html/scrolls.js'
import { Warnings } from '../html/warnings.js'

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

export interface CheckPage extends PageAssets {
  readonly patch: Patch
  readonly warnings: readonly string[]
  /** The frames that have pictures. */
  readonly frames: readonly CheckedFrame[]
  /** A whole frame with the result in it. */
  readonly whole: { readonly target: number; readonly picture: string }
  /** What each result's frames look like beside the plate; none of a borrow, which is meant to differ. */
  readonly checks: readonly { readonly of: string; readonly check: NonNullable<Patch['check']> }[]
  /** How the pictures are seen. */
  readonly seen: string
}

const FEATHERED = {
  outside: 'outside the mask',
  inside: 'inside the mask',
  both: "on both sides of the mask's edge",
} as const
const KINDS: Readonly<Record<Patch['what'], string>> = {
  patch: 'patch to lay over the plate',
  ratio: 'ratio to multiply the plate with',
  repaired: 'whole frames, repaired',
  borrowed: 'whole frames, multiplied',
}

export function checkText(page: CheckPage): string {
  const { patch, script, style, warnings, frames } = page
  const { candidate, target, region } = patch
  const [x, y, w, h] = region.window
  const rect = { x, y, w, h }
  const html = (
    <html lang="en">
      <head>
        <meta charset="utf-8" />
        <meta http-equiv="Content-Security-Policy" content={policy(script, style)} />
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <meta name="color-scheme" content="dark" />
        <title>{`${candidate.id}, check – ${target.plate}`}</title>
        <style dangerouslySetInnerHTML={{ __html: style }} />
      </head>
      <body class="check">
        <a class="skip" href="#frames">
          To the frames
        </a>
        <header class="top">
          <div class="said">
            <p class="plate">{target.plate}</p>
            <h1>
              {candidate.id} {candidate.verdict}
            </h1>
            <Warnings warnings={warnings} />
            <Facts page={page} />
          </div>
          <div class="where">
            <figure>
              <Picture
                uri={page.whole.picture}
                rect={{ x: 0, y: 0, w: target.width, h: target.height }}
                marked={rect}
                alt={`Result on frame ${page.whole.target}, the whole frame, with what may change outlined`}
              />
              <figcaption>
                result <b>{page.whole.target}</b>, the whole frame
              </figcaption>
            </figure>
          </div>
        </header>
        <main>
          <section id="frames" aria-labelledby="frames-name">
            <h2 id="frames-name">Frames</h2>
            {frames.length < patch.frames.length ? (
              <p class="note">
                {frames.length} of {patch.frames.length}, so that the page stays small enough for a mail.
              </p>
            ) : null}
            {frames.map((each) => (
              <FrameRow each={each} patch={patch} rect={rect} />
            ))}
          </section>
          <section aria-labelledby="numbers-name">
            <h2 id="numbers-name">Numbers</h2>
            {page.checks.length > 0 ? <Checks checks={page.checks} /> : null}
            <Numbers patch={patch} />
          </section>
        </main>
        <script dangerouslySetInnerHTML={{ __html: script }} />
      </body>
    </html>
  )
  return `<!doctype html>\n${renderToString(html)}\n`
}

function Facts({ page: { patch, seen } }: { page: CheckPage }) {
  const { region, nudge, strength, what } = patch
  return (
    <div class="facts">
      <dl>
        <dt>Written</dt>
        <dd>
          {KINDS[what]}, {count(patch.frames.length, 'file')}, {patch.format}, {patch.encoding}
          {patch.alpha === null ? '' : `, alpha ${patch.alpha}`}
        </dd>
        <dt>Feather</dt>
        <dd>
          {region.feather} px {FEATHERED[region.featherSide]}
        </dd>
        {nudge ? <dt>Nudge</dt> : null}
        {nudge ? (
          <dd>
            {nudge[0]}, {nudge[1]} px
          </dd>
        ) : null}
        {strength === undefined ? null : <dt>Strength</dt>}
        {strength === undefined ? null : <dd>{strength}</dd>}
        <dt>Shown</dt>
        <dd>{seen}</dd>
        <dt>By</dt>
        <dd>offcut {patch.version}</dd>
      </dl>
    </div>
  )
}

function FrameRow({ each, patch, rect }: { each: CheckedFrame; patch: Patch; rect: Rect }) {
  const { frame, outline } = each
  const name = `frame-${frame.target}`
  const at = { ...rect, x: 0, y: 0 }
  const laid = patch.what === 'ratio' ? 'ratio' : 'patch over grey'
  return (
    <article aria-labelledby={name}>
      <div class="frame-head">
        <h3 id={name}>{frame.target}</h3>
        <p class="note">{lentBy(frame)}</p>
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
      <div class={pictureClass(rect)}>
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
            alt={`Difference of result and target on frame ${frame.target}`}
          />
          <figcaption>
            difference <Legend />
          </figcaption>
        </figure>
      </div>
    </article>
  )
}

function lentBy({ lent }: PatchFrame): string {
  if (lent.length === 0) return 'mask black: left as it is'
  const [most] = lent
  const others = lent.length > 1 ? `, and ${count(lent.length - 1, 'other')}` : ''
  return `from ${most.frame}${others}, ${plain(most.timeOffset, 0, true)} frames`
}

const COMPARED = ['seam', 'flicker', 'noise', 'spectrum'] as const

/** Inside the patch beside the plate round it, of all frames together: a column per result. */
function Checks({ checks }: Pick<CheckPage, 'checks'>) {
  const columns = checks.map(({ check }) => COMPARED.map((key) => finishWords(key, check[key])))
  return (
    <Scrolls name="Patch beside the plate, table">
      <table class="compared">
        <caption class="note">The patch beside the plate round it, all frames: 1 is as the plate is</caption>
        <thead>
          <tr>
            <th scope="col">Measure</th>
            {checks.map(({ of }) => (
              <th scope="col">{of}</th>
            ))}
            <th scope="col">Meant</th>
          </tr>
        </thead>
        <tbody>
          {COMPARED.map((key, i) => {
            const { label, meaning, meant } = finishLabel(key)
            return (
              <tr>
                <th scope="row" title={meaning}>
                  {label}
                </th>
                {columns.map((column) => (
                  <td>
                    {column[i]!.figures}
                    {column[i]!.holds ? null : <b>, beyond the limit</b>}
                  </td>
                ))}
                <td>{meant}</td>
              </tr>
            )
          })}
        </tbody>
      </table>
      {checks.map(({ of, check }) =>
        check.unmeasured === null ? null : (
          <p class="note">
            {of}, not measured: {check.unmeasured}
          </p>
        ),
      )}
    </Scrolls>
  )
}

const HEADS = ['Share', 'Donor', 'Time offset', 'dx px', 'dy px', 'Gain R', 'Gain G', 'Gain B'] as const

const CHECKED = ['Seam', 'Flicker', 'Noise R', 'Noise G', 'Noise B'] as const

function checkedFigures({ check }: PatchFrame): string[] {
  const [r, g, b] = check?.noise ?? [null, null, null]
  return [check?.seam, check?.flicker, r, g, b].map((v) => v?.toFixed(2) ?? '–')
}

function Numbers({ patch }: { patch: Patch }) {
  const lifted = patch.strength !== undefined
  const isChecked = patch.frames.some(({ check }) => check !== undefined)
  return (
    <Scrolls name="All numbers, table">
      <table>
        <caption class="unseen">What lends to each frame, and how it was moved and lit</caption>
        <thead>
          <tr>
            <th scope="col">Frame</th>
            {HEADS.map((head) => (
              <th scope="col">{head}</th>
            ))}
            {lifted ? <th scope="col">Strength</th> : null}
            {isChecked ? CHECKED.map((head) => <th scope="col">{head}</th>) : null}
          </tr>
        </thead>
        <tbody>
          {patch.frames.flatMap((frame) =>
            (frame.lent.length > 0 ? frame.lent : [undefined]).map((share) => (
              <tr>
                <th scope="row">{frame.target}</th>
                <td>{share ? share.share.toFixed(2) : '–'}</td>
                <td>{share?.frame ?? '–'}</td>
                <td>{share?.timeOffset ?? '–'}</td>
                <td>{share?.dx.toFixed(2) ?? '–'}</td>
                <td>{share?.dy.toFixed(2) ?? '–'}</td>
                {[0, 1, 2].map((c) => (
                  <td>{share?.gain[c].toFixed(3) ?? '–'}</td>
                ))}
                {lifted ? <td>{frame.strength?.toFixed(2) ?? '–'}</td> : null}
                {isChecked ? checkedFigures(frame).map((text) => <td>{text}</td>) : null}
              </tr>
            )),
          )}
        </tbody>
      </table>
    </Scrolls>
  )
}
