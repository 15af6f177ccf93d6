// One preview, with the mask's outline where wanted.
import { type ComponentChildren, Fragment } from 'preact'
import type { Rect } from '../../raster/rect.js'
import { InPlatePixels, useProjected } from './projected.js'
import type { ShownRow } from './shown.js'

/** Smaller pictures than this are always enlarged, and then pixels stay pixels. */
const SMALL = 220

export function Picture({
  uri,
  rect,
  alt,
  outline,
  marked,
}: {
  uri: string
  rect: Rect
  alt: string
  outline?: string
  /** What is to be looked at in it, in plate pixels. */
  marked?: Rect
}) {
  const { w, h } = useProjected(rect)
  return (
    <svg
      class={Math.max(w, h) < SMALL ? 'picture picture-small' : 'picture'}
      viewBox={`0 0 ${w} ${h}`}
      preserveAspectRatio="xMinYMid"
      role="img"
      aria-label={alt}
    >
      <image href={uri} width={w} height={h} preserveAspectRatio="none" />
      <InPlatePixels>
        {outline ? <path class="outline-under" d={outline} /> : null}
        {outline ? <path class="outline" d={outline} /> : null}
        {marked ? <Marked {...marked} x={marked.x - rect.x} y={marked.y - rect.y} /> : null}
      </InPlatePixels>
    </svg>
  )
}

function Marked({ x, y, w, h }: Rect) {
  return (
    <>
      <rect class="outline-under" x={x} y={y} width={w} height={h} />
      <rect class="outline marked" x={x} y={y} width={w} height={h} />
    </>
  )
}

/** Pictures of a region side by side: of wide ones fewer, so that they are not mere stripes. */
export function Pictures({ rect, children }: { rect: Rect; children: ComponentChildren }) {
  const { w, h } = useProjected(rect)
  const shape = w > 4 * h ? ' pictures-stripes' : w > 2 * h ? ' pictures-wide' : ''
  return <div class={`pictures${shape}`}>{children}</div>
}

/** The target frame with the mask outlined. */
export function Target({ row }: { row: ShownRow }) {
  const { target } = row.candidate.frames[row.shown]
  return (
    <figure data-view="target">
      <Picture
        uri={row.target}
        rect={row.rect}
        outline={row.outline}
        alt={`Target frame ${target}, mask outlined`}
      />
      <figcaption>
        target <b>{target}</b>
      </figcaption>
    </figure>
  )
}

export function Legend() {
  return (
    <span class="legend">
      {(['darker', 'same', 'lighter'] as const).map((name) => (
        <Fragment key={name}>
          <span>
            <i class={`legend-${name}`} aria-hidden="true" /> {name}
          </span>{' '}
        </Fragment>
      ))}
    </span>
  )
}
