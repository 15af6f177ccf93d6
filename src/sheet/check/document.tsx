// The check of a patch as one page: warnings, how it stands beside the plate, every frame before and after, the numbers.
import { renderToString } from 'preact-render-to-string'
import { printFrames } from '../../footage/frames.js'
import type { Patch } from '../../repair/hand-over/patch.js'
import { count } from '../data/words.js'
import type { PageAssets } from '../html/assets.js'
import { Picture } from '../html/picture.js'
import { policy } from '../html/policy.js'
import { PixelAspect } from '../html/projected.js'
import { Warnings } from '../html/warnings.js'
import { type CheckedFrame, FrameRow } from './frame-row.js'
import { Checks, type ComparedResult, Numbers } from './numbers.js'

export interface CheckPage extends PageAssets {
  readonly patch: Patch
  /** width of the plate's pixels over their height */
  readonly pixelAspect: number
  readonly warnings: readonly string[]
  /** The frames that have pictures. */
  readonly frames: readonly CheckedFrame[]
  /** A whole frame with the result in it. */
  readonly whole: { readonly target: number; readonly picture: string }
  /** What each result's frames look like beside the plate; none of a borrow, which is meant to differ. */
  readonly checks: readonly ComparedResult[]
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
              {warnings.length > 0 ? `, with ${count(warnings.length, 'warning')}` : ''}
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
          {page.checks.length > 0 ? (
            <section aria-labelledby="beside-name">
              <h2 id="beside-name">Beside the plate</h2>
              <Checks checks={page.checks} />
            </section>
          ) : null}
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
            <Numbers patch={patch} />
          </section>
        </main>
        <script dangerouslySetInnerHTML={{ __html: script }} />
      </body>
    </html>
  )
  return `<!doctype html>\n${renderToString(<PixelAspect.Provider value={page.pixelAspect}>{html}</PixelAspect.Provider>)}\n`
}

function Facts({ page: { patch, seen } }: { page: CheckPage }) {
  const { region, nudge, strength, what } = patch
  return (
    <div class="facts">
      <dl>
        <dt>Frames</dt>
        <dd>{printFrames(patch.frames.map(({ target }) => target))}</dd>
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
