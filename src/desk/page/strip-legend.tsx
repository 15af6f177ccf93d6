// What the strip's lanes and marks are: names, units and ends of the scales at its left; below it the marks, and the frame shown.
import type { ComponentChildren } from 'preact'
import { signedStops } from './light-draw.js'
import type { StripPicture } from './strip-draw.js'
import { countsOf, frameInWords, pxText } from './strip-values.js'

/** Beside the lanes of the picture. Its values are said in the strip's summary, which readers of the screen come to. */
export function LaneNames({ axes: { light, mostPx } }: Pick<StripPicture, 'axes'>) {
  return (
    <div class="strip-lanes" aria-hidden="true">
      <span>Target range</span>
      <Lane
        name={['Light,', 'stops from', 'its usual']}
        high={light ? signedStops(light.high) : ''}
        low={light ? signedStops(light.low) : ''}
      />
      <Lane name={['Movement,', 'px a frame']} high={pxText(mostPx)} low="0" />
      <span>Marks</span>
      <span>Frame</span>
    </div>
  )
}

function Lane({ name, high, low }: { name: readonly string[]; high: string; low: string }) {
  return (
    <div class="strip-lane">
      <span>
        {name.map((line) => (
          <span key={line}>{line}</span>
        ))}
      </span>
      <span class="strip-scale">
        <span>{high}</span>
        <span>{low}</span>
      </span>
    </div>
  )
}

/** Each mark as it is drawn, and its name; what is not there now is left out, but for what one looks for. */
export function Legend(props: { picture: Omit<StripPicture, 'scale'>; frames: readonly number[] }) {
  const { picture, frames } = props
  const { repeated, unreadable, unmeasured } = countsOf(picture.known, frames)
  const soFar = unmeasured > 0 ? ' so far' : ''
  return (
    <div class="strip-legend">
      <ul aria-label="Marks of the strip">
        <Mark name={`repeated: ${repeated}${soFar}`}>
          <rect x="3.5" y="3.5" width="5" height="5" />
        </Mark>
        <Mark name={`unreadable: ${unreadable}${soFar}`}>
          <path d="M3 3l6 6M9 3l-6 6" />
        </Mark>
        {picture.axes.light ? (
          <Mark name="usual light">
            <path class="strip-usual" d="M0 6h12" />
          </Mark>
        ) : null}
        {picture.targets.length > 0 ? (
          <Mark name="target">
            <path class="strip-range" d="M1 0h10v12h-10z" />
            <path d="M1 0v12M11 0v12" />
          </Mark>
        ) : null}
        {picture.keyed.length > 0 ? (
          <Mark name="key of a shape">
            <path class="strip-full" d="M6 1l5 5l-5 5l-5-5z" />
          </Mark>
        ) : null}
        {picture.donors.length > 0 ? (
          <Mark name="donor">
            <path class="strip-full" d="M0 8h12v3h-12z" />
          </Mark>
        ) : null}
        {picture.gaps.length > 0 ? (
          <Mark name="gap">
            <path class="strip-hatch" d="M0 6l6-6M0 12l12-12M6 12l6-6" />
          </Mark>
        ) : null}
      </ul>
      <p class="strip-here">
        <Swatch>
          <path class="strip-now" d="M4.5 0v12h3v-12" />
        </Swatch>
        {picture.frame}: {frameInWords(picture.known, picture.axes, picture.frame)}
      </p>
    </div>
  )
}

function Mark({ name, children }: { name: string; children: ComponentChildren }) {
  return (
    <li>
      <Swatch>{children}</Swatch>
      {name}
    </li>
  )
}

function Swatch({ children }: { children: ComponentChildren }) {
  return (
    <svg viewBox="0 0 12 12" aria-hidden="true">
      {children}
    </svg>
  )
}
